// The core in the browser or in Node: the same C code that the server runs, as WebAssembly (src/core/wasm). It judges a
// reading, foresees a limit and computes without a connection.
//
//   import { loadCore } from './core.mjs';
//   const core = await loadCore(fetch('core.wasm'));       // or bytes, or a WebAssembly.Module
//   core.calc('tyre-pressure', { gauge: '22 psi', from: '41 degC', to: '20 degC' }).outputs.gauge.text
//   core.judge({ value: '1.3 bar', limits: '1.4 .. 1.6 bar', correction: 'cold', reference: '20 degC',
//                with: { 'tyre temperature': '41 degC' } }).verdict
//
// Values are written as people write them, with units; answers are plain objects (src/core/wasm/flat.h says which). A
// question that cannot be answered throws CoreError with what is wrong and what would be right.

export class CoreError extends Error {
  /** @param {{kind: string, what: string, right: string}} error */
  constructor(error) {
    super(error.right ? `${error.what}; ${error.right}` : error.what);
    this.name = 'CoreError';
    this.kind = error.kind;
    this.what = error.what;
    this.right = error.right;
  }
}

const encoder = new TextEncoder();
const decoder = new TextDecoder('utf-8', { fatal: true });

// From a response, its promise, bytes or a module to a module.
async function compile(source) {
  const given = await source;
  if (given instanceof WebAssembly.Module) {
    return given;
  }
  return WebAssembly.compile(typeof given.arrayBuffer === 'function' ? await given.arrayBuffer() : given);
}

// One value of a question; a line end inside would start another line.
function written(name, value) {
  const text = Array.isArray(value) ? value.join(',') : value === true ? 'yes' : value === false ? 'no' : String(value);
  if (/\n/.test(text) || /[=\n]/.test(name)) {
    throw new CoreError({ kind: 'input', what: `${name} has a line end or a sign that ends a name`, right: 'text on one line' });
  }
  return `${name}=${text}`;
}

// NAME=VALUE for each member; undefined and null are left out; an array of arrays or under `many` is several lines.
function lines(fields, many = []) {
  const all = [];
  for (const [name, value] of Object.entries(fields)) {
    if (value === undefined || value === null) {
      continue;
    }
    for (const one of many.includes(name) ? value : [value]) {
      all.push(written(name, Array.isArray(one) && many.includes(name) ? one.join(' ') : one));
    }
  }
  return all;
}

class Core {
  #module;
  #exports;

  constructor(module) {
    this.#module = module;
    this.#start();
  }

  #start() {
    this.#exports = new WebAssembly.Instance(this.#module, {}).exports;
  }

  // Copies the answer out and gives its memory back. Views are made anew: a call may have grown the memory.
  #take(place) {
    if (place === 0) {
      throw new CoreError({ kind: 'system', what: 'out of memory', right: '' });
    }
    const size = new DataView(this.#exports.memory.buffer).getUint32(place, true);
    const text = decoder.decode(new Uint8Array(this.#exports.memory.buffer, place + 4, size));
    this.#exports.wm_free(place);
    return text;
  }

  // Calls an export with a text. After a trap the instance is thrown away, so that one bad question costs only itself.
  #call(name, question) {
    try {
      if (question === undefined) {
        return this.#take(this.#exports[name]());
      }
      const bytes = encoder.encode(question);
      const place = this.#exports.wm_alloc(bytes.length);
      if (place === 0) {
        throw new CoreError({ kind: 'system', what: 'out of memory', right: '' });
      }
      new Uint8Array(this.#exports.memory.buffer, place, bytes.length).set(bytes);
      const answer = this.#take(this.#exports[name](place, bytes.length));
      this.#exports.wm_free(place);
      return answer;
    } catch (error) {
      if (error instanceof WebAssembly.RuntimeError) {
        this.#start();
        throw new CoreError({ kind: 'internal', what: `the core stopped: ${error.message}`, right: '' });
      }
      throw error;
    }
  }

  /** The answer to a question as text, both as src/core/wasm/flat.h says. @param {'calc'|'judge'|'reserve'|'meter'|'round'} kind */
  ask(kind, question) {
    return this.#call(`wm_${kind}`, question);
  }

  #answer(kind, all) {
    const answer = JSON.parse(this.ask(kind, all.join('\n')));
    if (answer.error) {
      throw new CoreError(answer.error);
    }
    return answer;
  }

  /** Version of the program this core was built with. */
  version() {
    return this.#call('wm_version');
  }

  /** All calculations: name, title, formula, source, inputs, outputs. */
  calculations() {
    return JSON.parse(this.#call('wm_calculations'));
  }

  /** Runs a calculation; inputs by name, lists as arrays, flags as booleans; units: 'as-written', 'si' or 'us'. */
  calc(name, inputs, units) {
    return this.#answer('calc', [name, ...lines(units ? { ...inputs, units } : inputs)]);
  }

  /**
   * Holds a reading against its limits. `with` is an object of what was read together with it; `given` and `judged-at`
   * are objects too. `question` is the member "judge" of a checkpoint in a machine's book, which has all the rest:
   *   core.judge({ question: checkpoint.judge, value: '1.5 bar', with: { 'tyre temperature': '41 degC' } })
   */
  judge({ question = '', with: together = {}, given = {}, 'judged-at': judgedAt = {}, ...fields }) {
    const named = (word, all) => Object.entries(all).map(([name, value]) => [`${word} ${name}`, value]);
    const more = Object.fromEntries([...named('with', together), ...named('given', given), ...named('judged-at', judgedAt)]);
    return this.#answer('judge', [...lines({ ...fields, ...more }), ...question.split('\n').filter(Boolean)]);
  }

  /** When a predetermined checkpoint runs out: interval, last-day, last-hours, hours-now, hours-per-day, today. */
  reserve(fields) {
    return this.#answer('reserve', lines(fields));
  }

  /** The rest of a round under way, by index, as src/core/wasm/flat_round.h says; `all` are its lines. */
  round(all) {
    return this.#answer('round', all);
  }

  /**
   * Where an exhaust filter stands and, with jobs, the best stops for parked burns (src/core/wasm/flat_exhaust.h). `question` is
   * the member of that name in a machine's exhaust answer; a job has job, when, duty, hours, places, stop, at, stop-name, burn.
   */
  exhaust(question, jobs = [], fireBan = false) {
    const order = ['job', 'when', 'duty', 'hours', 'places', 'stop', 'at', 'stop-name', 'burn'];
    const field = (value) => String(Array.isArray(value) ? value.join(' ') : (value ?? '')).replace(/[|\n=]/g, ' ');
    const own = jobs.map((job) => `job=${order.map((name) => field(job[name])).join('|')}`);
    return this.#answer('exhaust', [...question.split('\n').filter(Boolean), ...own, ...(fireBan ? ['fire-ban=yes'] : [])]);
  }

  /** An adjuster's ledger, what comes next, and whether a step may be made; members as src/core/wasm/flat_adjust.h says, `turn` a
   *  list of lines. */
  adjust(fields) {
    return this.#answer('adjust', lines(fields, ['turn']));
  }

  /** Where a recovery stands and whether a plan keeps the limits; `all` are the lines of src/core/wasm/flat_adjust.h. */
  recover(all) {
    return this.#answer('recover', all);
  }

  /** Causes and the next step: the model as the depot gives it with what was seen, as lines (src/core/wasm/flat_trace.h). */
  trace(question) {
    return this.#answer('trace', question.split('\n').filter(Boolean));
  }

  /** Which thing somebody means by their words: phrases are [name, words]. */
  find(said, phrases) {
    const plain = (text) => String(text).replaceAll(/[\n=]/g, ' ');
    return this.#answer('find', [`said=${plain(said)}`, ...phrases.map(([name, words]) => `phrase=${name} ${plain(words)}`)]);
  }

  /** Cleans an hour meter: reading, swap and pause are arrays of arrays; at an instant. */
  meter(fields) {
    return this.#answer('meter', lines(fields, ['reading', 'swap', 'pause']));
  }
}

/** @param {Response|Promise<Response>|ArrayBuffer|Uint8Array|WebAssembly.Module} source */
export async function loadCore(source) {
  return new Core(await compile(source));
}
