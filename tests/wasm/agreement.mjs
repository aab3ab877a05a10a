// The core as WebAssembly agrees with the ordinary build: every published case through the whole case runner, and flat
// questions through page/lib/core.mjs (calculations, verdicts on and beside each limit, reserves, hour meters). Numbers
// may differ by 1e-12 of their size (fits: see RELATIVE_OF_TOPIC), since two mathematical libraries round differently;
// words may not differ at all.
//
// usage: agreement.mjs core.wasm cases.wasm witmark-cases flat     Speaks TAP. Seed: WITMARK_SEED, printed.
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const [coreFile, casesFile, nativeCases, nativeFlat] = process.argv.slice(2);
const CHECKS = join(process.env.WITMARK_DATA, 'checks');
const RELATIVE = 1e-12;
// Results of a search for a likelihood's top, and of ill-conditioned fits (Longley, Lanczos), keep fewer digits of what
// the last bit of a logarithm does: 3e-8 and 1e-8 were the largest differences seen. The cases' own tolerances hold too.
const RELATIVE_OF_TOPIC = { '01_life_fit': 1e-7, '10_regression_trend': 1e-7 };
const { loadCore, CoreError } = await import(pathToFileURL(join(process.env.WITMARK_SOURCE, 'page/lib/core.mjs')));

let number = 0;
function report(name, problem) {
  number++;
  console.log(`${problem ? 'not ok' : 'ok'} ${number} - ${name.replaceAll('#', '')}`);
  if (problem) {
    console.log(`# ${String(problem).replaceAll('\n', '\n# ')}`);
  }
}

let largest = 0; // relative difference seen in the file or kind in hand

// Where two JSON values differ, or nothing. An expected value of about 0 is met absolutely.
function difference(native, wasm, tolerance, path = '') {
  if (typeof native === 'number' && typeof wasm === 'number') {
    const off = Math.abs(native - wasm) / Math.max(Math.abs(native), Math.abs(wasm), 1e-300);
    largest = Math.max(largest, off);
    return off <= tolerance ? '' : `${path}: native ${native}, wasm ${wasm}, relative difference ${off.toExponential(2)}`;
  }
  if (native && wasm && typeof native === 'object' && typeof wasm === 'object') {
    const keys = Object.keys(native);
    if (keys.length !== Object.keys(wasm).length) {
      return `${path}: other members`;
    }
    return keys.map((key) => difference(native[key], wasm[key], tolerance, `${path}/${key}`)).find(Boolean) ?? '';
  }
  return native === wasm ? '' : `${path}: native ${JSON.stringify(native)}, wasm ${JSON.stringify(wasm)}`;
}

// ---- published cases ----

// Offset of a zone in minutes at an instant, as the case runner's host must say; what it cannot know is INT32_MIN.
function zoneOffset(zone, seconds) {
  try {
    const parts = new Intl.DateTimeFormat('en', { timeZone: zone, timeZoneName: 'longOffset' }).formatToParts(seconds * 1000);
    const [, sign, hours, minutes] = /GMT(?:([+-])(\d\d):(\d\d))?/.exec(parts.find((p) => p.type === 'timeZoneName').value);
    return sign ? (sign === '-' ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) : 0;
  } catch {
    return -(2 ** 31);
  }
}

function caseRunner() {
  const host = {
    zone_offset(place, at) {
      const bytes = new Uint8Array(exports.memory.buffer, place);
      return zoneOffset(Buffer.from(bytes.subarray(0, bytes.indexOf(0))).toString(), at);
    },
  };
  const { exports } = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(casesFile)), { host });
  return (one) => {
    const bytes = Buffer.from(JSON.stringify(one));
    const place = exports.wm_alloc(bytes.length);
    new Uint8Array(exports.memory.buffer).set(bytes, place);
    const answer = exports.run_case(place, bytes.length);
    const size = new DataView(exports.memory.buffer).getUint32(answer, true);
    const line = Buffer.from(exports.memory.buffer, answer + 4, size).toString();
    exports.wm_free(place);
    exports.wm_free(answer);
    return JSON.parse(line);
  };
}

function publishedCases() {
  const run = caseRunner();
  for (const topic of ['engineering', 'reliability']) {
    for (const file of readdirSync(join(CHECKS, topic)).filter((f) => f.endsWith('.json')).sort()) {
      const path = join(CHECKS, topic, file);
      const out = spawnSync(nativeCases, ['--results', path], { encoding: 'utf8', maxBuffer: 1 << 28 });
      const natives = out.stdout.split('\n').filter((line) => line.startsWith('{')).map((line) => JSON.parse(line));
      const cases = JSON.parse(readFileSync(path));
      if (natives.length !== cases.length) {
        report(file, `the ordinary build answered ${natives.length} of ${cases.length} cases: ${out.stderr}`);
      }
      largest = 0;
      cases.forEach((one, i) => {
        const wasm = run(one);
        const problem = !wasm.passed ? `wasm: ${wasm.why || wasm.refused}` : difference(natives[i], wasm, RELATIVE_OF_TOPIC[one.topic] ?? RELATIVE);
        report(`case ${one.id}`, problem);
      });
      console.log(`# ${file}: largest relative difference ${largest.toExponential(1)}`);
    }
  }
}

// ---- flat questions ----

// Neighbouring doubles of a value.
function beside(value) {
  const view = new DataView(new ArrayBuffer(8));
  return [-1n, 1n].map((step) => {
    view.setFloat64(0, value);
    view.setBigInt64(0, view.getBigInt64(0) + step);
    return view.getFloat64(0);
  });
}

const onAndBeside = (value) => [value, ...beside(value), value * (1 - 1e-9), value * (1 + 1e-9)];

// Verdicts: readings that after correction stand on and beside a limit, on and beside the border of "close", and far off.
function judgeQuestions() {
  const all = [];
  const ranges = [
    ['bar', 1.4, 1.6], ['psi', 18, 24], ['bar', null, 3.5], ['V', 12.4, null], ['degC', null, 105], ['degC', -10, 60], ['mm', 3, 8], ['%', 20, 80],
  ];
  for (const [unit, low, high] of ranges) {
    const span = low !== null && high !== null ? high - low : Math.abs(low ?? high);
    const at = [low, high, low === null ? null : low + span / 10, high === null ? null : high - span / 10].filter((v) => v !== null);
    const values = [...at.flatMap(onAndBeside), 0, -span, 10 * span];
    const limits = `${low === null ? '' : `${low} ${unit} `}..${high === null ? '' : ` ${high} ${unit}`}`;
    for (const value of values) {
      all.push(`value=${value} ${unit}\nlimits=${limits}\nuncertainty=${span / 50} ${unit}`);
    }
    if (unit === 'bar') {
      for (const corrected of values) { // the gas law and the viscosity rule backwards, so that the corrected value lands there
        const hot = (corrected + 1.01325) * (314.15 / 293.15) - 1.01325;
        all.push(`value=${hot} bar\nlimits=${limits}\ncorrection=cold\nreference=20 degC\nwith tyre temperature=41 degC`);
        all.push(`value=${corrected} bar\nlimits=${limits}\ncorrection=viscosity\nreference=50 degC\nv40=46 mm2/s\nv100=6.8 mm2/s\nwith oil=50 degC`);
        all.push(`value=${corrected * 4.4653} bar\nlimits=${limits}\ncorrection=viscosity\nreference=50 degC\nv40=46 mm2/s\nv100=6.8 mm2/s\nwith oil=20 degC`);
      }
    }
  }
  all.push('value=1 bar\nlimits=2 degC ..', 'value=1 bar', 'value=1\nlimits=1 .. 2 bar', 'value=1 bar\nlimits=2 bar ..\ncorrection=warm', '=1',
    'value=1 bar\nlimits=.. 2 bar\ncorrection=cold', 'value=1 bar\nlimits=.. 2 bar\ncorrection=cold\nreference=20 degC', 'no line', '',
    'value=12.6 V\nlimits=12.4 V ..\ncorrection=battery\nwith rest=4 h', 'value=12.6 V\nlimits=12.4 V ..\ncorrection=battery\nwith rest=3 h',
    'value=1 bar\nlimits=.. 2 bar\ngauge=0 .. 0.5 bar', 'value=1e999 bar\nlimits=.. 2 bar', 'value=20 psi\nlimits=1 .. 2 bar\nunits=us');
  return [...all, ...corrections()];
}

// Every correction over a sweep of readings, so that each verdict comes up, and without each line that it needs.
function corrections() {
  const sweep = (from, to, n) => Array.from({ length: n }, (_, i) => from + (to - from) * i / (n - 1));
  const rows = [
    ['cold', 'bar', sweep(1, 2, 21), ['limits=1.4 .. 1.6 bar', 'uncertainty=0.05 bar', 'reference=20 degC', 'with tyre temperature=33 degC', 'with altitude=900 m']],
    ['viscosity', 'bar', sweep(0, 8, 21), ['limits=.. 2 bar', 'uncertainty=0.1 bar', 'reference=50 degC', 'v40=46 mm2/s', 'v100=6.8 mm2/s', 'with oil temperature=21 degC']],
    ['battery', 'V', sweep(11.5, 13.2, 21), ['limits=12.4 .. 12.8 V', 'uncertainty=0.02 V', 'reference=25 degC', 'with rest=9 h']],
    ['battery', '', sweep(1.1, 1.35, 21), ['limits=1.22 .. 1.29', 'uncertainty=0.005', 'reference=20 degC', 'with acid temperature=5 degC']],
    ['charge', 'V', sweep(11.5, 13.2, 21), ['limits=70 .. 100 %', 'uncertainty=0.02 V', 'gauge=0 .. 20 V', 'with rest=9 h']],
    ['charge', 'V', sweep(23, 26, 21), ['limits=70 .. 100 %', 'given system=24 V', 'gauge=0 .. 40 V', 'with rest=9 h']],
    ['charge', '', sweep(1.1, 1.35, 21), ['limits=70 .. 100 %', 'uncertainty=0.005', 'gauge=1.1 .. 1.3', 'with acid temperature=5 degC']],
    ['charging', 'V', sweep(13, 15.5, 21), ['limits=14.1 .. 14.7 V', 'uncertainty=0.05 V', 'reference=20 degC', 'with battery temperature=-5 degC']],
    ['cranking', 'V', sweep(5, 12, 21), ['limits=8 .. 10.5 V', 'uncertainty=0.1 V', 'reference=20 degC', 'with battery temperature=3 degC']],
    ['freezing', '%', sweep(-5, 70, 26), ['limits=-40 .. -25 degC', 'uncertainty=2 %', 'gauge=0 .. 80 %', 'glycol=ethylene']],
    ['freezing', '', sweep(1, 1.1, 21), ['limits=-40 .. -20 degC', 'uncertainty=0.002', 'gauge=1 .. 1.1', 'glycol=propylene', 'with coolant temperature=31 degC']],
    ['boiling', '%', sweep(0, 70, 21), ['limits=121 degC ..', 'uncertainty=2 %', 'gauge=0 .. 80 %', 'given cap=1 bar', 'with altitude=600 m']],
    ['tension', 'mm', sweep(0, 40, 21), ['limits=200 .. 400 N', 'uncertainty=0.5 mm', 'gauge=0 .. 50 mm', 'given span=320 mm', 'given force=25 N']],
    ['tension', 'N', sweep(0, 60, 21), ['limits=200 .. 400 N', 'uncertainty=2 N', 'gauge=0 .. 50 N', 'given span=320 mm', 'given deflection=5 mm']],
    ['elongation', 'mm', sweep(450, 490, 21), ['limits=.. 3 %', 'uncertainty=0.5 mm', 'gauge=0 .. 600 mm', 'given pitch=19.05 mm', 'given pitches=24']],
    ['nut', 'N.m', sweep(120, 240, 21), ['limits=180 .. 200 N.m', 'uncertainty=4 N.m', 'with extension=60 mm', 'with wrench=450 mm', 'with angle=45 deg']],
    ['consumption', '%', sweep(0, 100, 21), ['limits=.. 0.02 L/h', 'uncertainty=4 %', 'gauge=-20 .. 120 %', 'given between=1.5 L', 'with before=80 %', 'with added=0.5 L', 'with run=60 h']],
    ['consumption', 'mm', sweep(0, 30, 21), ['limits=.. 0.02 L/h', 'gauge=0 .. 40 mm', 'given between=1.5 L', 'given marks=24 mm', 'with before=20 mm', 'with run=60 h']],
    ['leak', '%', sweep(0, 100, 21), ['limits=14 d ..', 'uncertainty=2 %', 'gauge=0 .. 100 %', 'given minimum=20 %', 'with before=80 %', 'with apart=9 d']],
    ['leak', 'bar', sweep(1, 2, 21), ['limits=14 d ..', 'uncertainty=0.02 bar', 'gauge=0 .. 4 bar', 'given minimum=1.3 bar', 'with before=1.7 bar', 'with apart=9 d',
      'with tyre temperature=15 degC', 'with before temperature=25 degC']],
    ['as read', 'bar', sweep(1, 2, 5), ['limits=1.4 .. 1.6 bar', 'judged-at engine speed=900 .. 1000 rpm', 'with engine speed=950 rpm']],
    ['as read', 'bar', sweep(1, 2, 5), ['limits=1.4 .. 1.6 bar', 'judged-at oil temperature=45 degC .. 60 degC', 'with oil temperature=30 degC']],
  ];
  const ask = (correction, value, unit, lines) => [`value=${value} ${unit}`.trim(), `correction=${correction}`, ...lines].join('\n');
  return rows.flatMap(([correction, unit, values, lines]) => [
    ...values.map((value) => ask(correction, value, unit, lines)),
    ...lines.map((_, left) => ask(correction, values[values.length >> 1], unit, lines.filter((_line, i) => i !== left))),
    ask(correction, values[1], 'kg', lines),
  ]);
}

function calcQuestions() {
  return [
    'tyre-pressure\ngauge=22 psi\nfrom=41 degC\nto=20 degC', 'tyre-pressure\ngauge=22 psi\nfrom=41 degC\nto=20 degC\nunits=us',
    'tyre-pressure\ngage=22 psi', 'tyre-pressure\ngauge=-3 bar\nfrom=20 degC\nto=20 degC', 'no-such-thing', '', 'convert\nvalue=32 psi\nto=kPa',
    'viscosity\nt1=40 degC\nv1=46 mm2/s\nt2=100 degC\nv2=6.8 mm2/s\nat=-12.5 degC', 'blend\nshares=0.5,0.3,0.2\nv=46 mm2/s,100 mm2/s,220 mm2/s\nmethod=astm',
    'economic-life\nfirst-cost=13000\nmarket=9000,8000,6000,2000,0\nannual=2500,2700,3000,3500,4500\nrate=10 %',
    'coolant-boiling\nglycol=ethylene\nshare=50 %\ncap=15 psi\naltitude=1500 m', 'charge-voltage\nvoltage=13.1 V', 'due\nlast=2026-03-10\nlast-hours=812 h\n' +
    'every-hours=250 h\nevery-months=12\ntoday=2026-11-24\nhours-now=958 h', 'duration\nduration=P15DT5H0M20S', 'date-forms\ndate=2027-02-29',
    'grease-interval\nk=10\nspeed=1500 rpm\nbore=50 mm', 'tyre-pressure\ngauge=\u{1F6DE} bar', 'atmosphere\naltitude=1524 m',
  ];
}

// Seeded numbers in [0, 1).
function random(seed) {
  let x = BigInt(seed) || 1n;
  return () => {
    x ^= (x << 13n) & 0xffffffffffffffffn;
    x ^= x >> 7n;
    x ^= (x << 17n) & 0xffffffffffffffffn;
    return Number(x >> 11n) / 2 ** 53;
  };
}

const dayText = (days) => new Date(Date.UTC(2024, 0, 1) + days * 86400000).toISOString().slice(0, 10);

function reserveQuestions(rnd) {
  const all = ['interval=250 h', 'interval=\ntoday=2026-01-01', 'today=2026-01-01', 'interval=250 h\ntoday=2026-02-30', 'interval=250 h\ntoday=2026-02-20\nhours-now=-1'];
  for (let i = 0; i < 300; i++) {
    const last = Math.floor(rnd() * 900);
    const hours = rnd() * 2000;
    const fields = { interval: ['250 h', '12 months', '500 h or 6 months', '10 days', '50 h or 1 week'][Math.floor(rnd() * 5)],
      today: dayText(last + Math.floor(rnd() * 500)), 'hours-now': hours + rnd() * 400, 'hours-per-day': rnd() < 0.1 ? 0 : rnd() * 9 };
    if (rnd() < 0.8) {
      Object.assign(fields, { 'last-day': dayText(last), 'last-hours': hours });
    } else if (rnd() < 0.5) {
      fields['first-day'] = dayText(0);
    }
    all.push(Object.entries(fields).filter(([name]) => name === 'interval' || name === 'today' || rnd() < 0.9).map(([n, v]) => `${n}=${v}`).join('\n'));
  }
  return all;
}

function meterQuestions(rnd) {
  const all = ['reading=2026-01-01T00:00Z', 'reading=yesterday 5', 'swap=2026-01-01T00:00Z ? 5', ''];
  for (let i = 0; i < 60; i++) {
    const lines = [];
    let hours = rnd() * 1000;
    for (let day = 0; day < 400; day += 1 + Math.floor(rnd() * 30)) {
      hours += rnd() * 40;
      const read = rnd() < 0.1 ? hours * (rnd() * 3) : hours;
      lines.push(`reading=${dayText(day)}T07:${10 + Math.floor(rnd() * 49)}Z ${read}`);
    }
    if (rnd() < 0.3) {
      lines.push(`swap=${dayText(200)}T12:00Z ${rnd() < 0.5 ? '?' : hours} 0`);
    }
    if (rnd() < 0.3) {
      lines.push(`pause=${dayText(100)}T00:00Z ${dayText(130)}T00:00Z`);
    }
    all.push([...lines, `at=${dayText(Math.floor(rnd() * 500))}T00:00Z`].join('\n'));
  }
  return all;
}

// The rest of rounds: the machine of tests/core/round_rest_test.c with a longer list, after every beginning and without each change
// and point in turn. Whole numbers, so that the orders must be the same to the last step.
function roundQuestions(rnd) {
  const machine = ['variables=2 3', 'start=0 0', 'finish=1 1', 'home=0', ...['0 0', '2 0', '2 3', '-1 1.5'].map((p) => `place=${p}`), 'never=1 2',
    ...['0 20 | 1 5 | 0:1', '0 15 | 2 5 | 0:0', '0 35 | 2 1 | 1:1', '0 20 | 2 2 | 1:2', '0 20 | 2 4 | 1:1', '0 30 | 2 2 | 1:0'].map((c) => `change=${c}`)];
  const points = Array.from({ length: 12 }, (_, i) => `point=${Math.floor(rnd() * 4)} ${10 + Math.floor(rnd() * 90)} | ${['0 0', '1 4', '1 0', '2 1'][Math.floor(rnd() * 4)]} | | ${i > 3 && rnd() < 0.3 ? i - 3 : ''}`);
  const did = ['', 'did=c0', 'did=c0 c2', 'did=c0 c2 c3', 'did=c0 c2 c3 c1', 'did=c0 c2 c3 c1 p0 p1'];
  const without = ['', ...Array.from({ length: 6 }, (_, i) => `not=c${i}`), 'not=p3', 'not=p1 p7 c4'];
  return [...did.flatMap((d) => without.map((w) => [...machine, ...points, 'at=1', d, w].join('\n'))), '', 'variables=0', 'variables=2\nat=9'];
}

// Histories of one adjuster made by chance, with a step that is asked for.
function adjustQuestions(rnd) {
  const all = ['', 'way=sideways', 'way=in\nfirst-step=1080\nstep=360\nat-most=2880\nturn=much', 'way=in\nfirst-step=1080\nstep=360\nat-most=2880\nturn=90 better'];
  const any = (list) => list[Math.floor(rnd() * list.length)];
  for (let i = 0; i < 200; i++) {
    const lines = [`way=${any(['in', 'out'])}`, `first-step=${any([360, 720, 1080])}`, `step=${any([90, 180, 360])}`, `at-most=${any([1440, 2880])}`];
    lines.push(`prior=${(0.1 + 0.8 * rnd()).toFixed(6)}`);
    for (let k = Math.floor(rnd() * 6); k > 0; k--) {
      lines.push(`turn=${90 * (Math.floor(rnd() * 17) - 8)} ${any(['gone', 'less', 'same', 'worse', '-'])}${any(['', '', ' accepted', ' found'])}`);
    }
    all.push([...lines, `ask=${90 * (Math.floor(rnd() * 33) - 16)}`, ...any([[], [], ['missing=load-supported'], ['other=Flush valve']])].join('\n'));
  }
  return all;
}

// Recoveries in and out of order, with moves and plans.
function recoverQuestions(rnd) {
  const all = ['', 'limit=1 2', 'limit=1 2 3 4 5\nopened=64', 'limit=1 2 3 4 5\nmoved=-1 2 3 4'];
  const steps = ['step=0 | ', 'step=1 |', 'step=2 3 |', 'step=4', 'step=| 0'];
  for (let i = 0; i < 200; i++) {
    const lines = [...steps, `limit=${200 + Math.floor(rnd() * 200)} ${rnd() < 0.2 ? '?' : rnd().toFixed(3)} 0.05 900 ${rnd() < 0.3 ? '?' : 100}`];
    for (let k = Math.floor(rnd() * 14); k > 0; k--) {
      const item = Math.floor(rnd() * 6);
      lines.push(rnd() < 0.5 ? `opened=${item}` : rnd() < 0.6 ? `closed=${item}` : `moved=${Math.floor(rnd() * 100)} ${rnd() < 0.4 ? '?' : Math.floor(rnd() * 300)} ? ?`);
    }
    all.push([...lines, `plan=${Math.floor(rnd() * 300)} ? ${(rnd() / 10).toFixed(3)} ?`].join('\n'));
  }
  return all;
}

// Faults: models made by chance, with what was seen and done; and what cannot be.
function traceQuestions(rnd) {
  const all = ['', 'cause=1', 'cause=1 a\nsaw=b', 'cause=1 a\nsign=0 1 s\nchance=0.5 s b', 'cause=1 a\nhelp=60\nsign=0 1 s\nchance=1 s a\nnot=s', 'cause=-1 a', 'cause=1 a\ncause=1 a', 'colour=red'];
  for (let i = 0; i < 120; i++) {
    const [causes, signs, repairs] = [1 + Math.floor(rnd() * 7), Math.floor(rnd() * 9), Math.floor(rnd() * 6)];
    const lines = [`help=${60 + rnd() * 300}`, `other=${rnd()}`, `pairs=${rnd() < 0.5 ? 0 : rnd()}`, 'nodes=400'];
    for (let c = 0; c < causes; c++) {
      lines.push(`cause=${0.1 + rnd() * 8} c${c}`);
    }
    for (let s = 0; s < signs; s++) {
      lines.push(`sign=${rnd() * 0.2} ${rnd() < 0.2 ? '-' : 0.5 + rnd() * 15} s${s}`);
      for (let c = 0; c < causes; c++) {
        if (rnd() < 0.6) {
          lines.push(`chance=${rnd()} s${s} c${c}`);
        }
      }
    }
    for (let r = 0; r < repairs; r++) {
      lines.push(`repair=${1 + rnd() * 90} r${r}`, `cures=${0.5 + rnd() / 2} r${r} c${r % causes}`);
    }
    for (let s = 0; s < signs; s++) {
      if (rnd() < 0.4) {
        lines.push(`${rnd() < 0.5 ? 'saw' : 'not'}=s${s}`);
      }
    }
    for (let r = 0; r < repairs; r++) {
      if (rnd() < 0.2) {
        lines.push(`${rnd() < 0.9 ? 'tried' : 'cannot'}=r${r}`);
      }
    }
    all.push(lines.join('\n'));
  }
  return all;
}

function findQuestions() {
  const phrases = ['valve A hydraulic valve chatters or squeals', 'valve screams', 'lunge Drive lunges or jerks', 'stands Machine does not move', 'hot Engine runs hot', 'hot overheats']
    .map((p) => `phrase=${p}`).join('\n');
  return ['valve chaters', 'it screams', "won't move", 'drive jerks', 'HOT', 'nothing of the kind', '', 'does not', 'overheating engine'].map((said) => `said=${said}\n${phrases}`).concat('said=x', 'colour=red');
}

// Asks both builds; one test per kind, which names the first question that differs.
// Filters with a machine's own rates, loads from clean to past burning, and up to four jobs of every kind of place; every seventh asks wrongly.
function exhaustQuestions(rnd) {
  const places = ['', 'dusty', 'dry-vegetation', 'indoors', 'public fire-ban', 'combustibles', 'hard-standing', 'hard-standing fire-ban'];
  const pick = (list) => list[Math.floor(rnd() * list.length)];
  return Array.from({ length: 40 }, (_, i) => {
    const own = 0.03 + 0.06 * rnd();
    const base = [`duty=raking|Raking dry sand|0.055|0.03|0.85|0.6|${own}|${(0.3 * own) ** 2}|${0.05 * own * 0.08}`,
      `duty=idling|Idling|0.08|0|0|0.4|0.08|${0.05 * own * 0.08}|${(0.3 * 0.08) ** 2}`,
      'begin=0.8', 'demand=1', 'derate=1.4', 'past=2', 'own-burn-leaves=0.25', 'parked-burn-leaves=0.15', 'spread=0.35', 'scatter=0.3', 'gauge=0.03', 'burn-minutes=25',
      'cool-minutes=25', 'inhibit=public', `load=${(2.1 * rnd()).toFixed(3)}`, 'load-deviation=0.03', `hours-since=${(12 * rnd()).toFixed(2)}`, `hours-inhibited=${i % 3 ? 0 : 3}`];
    const jobs = Array.from({ length: i % 5 }, () => `job=|Tue|${pick(['raking', 'idling', ''])}|${(1 + 7 * rnd()).toFixed(1)}|${pick(places)}|${pick(['', '60', '90', 'none'])}|${pick(places)}||`);
    const wrong = [[], [], [], [], [], [], [pick(['job=||rakin|7', 'job=||raking|seven', 'job=||raking|7|lawn', 'demand=3', 'lode=0.4', 'duty=x|y'])]][i % 7];
    return [...base.filter((line) => !wrong[0]?.startsWith('demand') || !line.startsWith('demand')), ...jobs, ...wrong].join('\n');
  });
}

function flatQuestions(core, kind, questions) {
  const input = Buffer.concat(questions.flatMap((q) => {
    const bytes = Buffer.from(q);
    return [Buffer.from(`${kind} ${bytes.length}\n`), bytes];
  }));
  const out = spawnSync(nativeFlat, [], { input, encoding: 'utf8', maxBuffer: 1 << 28 });
  const natives = out.stdout.split('\n').slice(0, -1);
  if (natives.length !== questions.length) {
    report(`${kind} questions`, `the ordinary build answered ${natives.length} of ${questions.length}: ${out.stderr}`);
    return;
  }
  largest = 0;
  const tallies = {};
  const problems = questions.map((question, i) => {
    const wasm = JSON.parse(core.ask(kind, question));
    const sort = wasm.error ? 'refused' : wasm.verdict ?? 'answered';
    tallies[sort] = (tallies[sort] ?? 0) + 1;
    const problem = difference(JSON.parse(natives[i]), wasm, RELATIVE);
    return problem && `${question}\n${problem}`;
  });
  report(`${questions.length} ${kind} questions`, problems.find(Boolean));
  console.log(`# ${kind}: ${Object.entries(tallies).map(([k, n]) => `${n} ${k}`).join(', ')}; largest relative difference ${largest.toExponential(1)}`);
  // A table that only ever gives one answer would prove little.
  const wanted = kind === 'judge' ? ['in limits', 'close', 'out', 'not judged', 'refused'] : ['answered', 'refused'];
  report(`${kind} questions reach every sort of answer`, wanted.filter((w) => !tallies[w]).join(', '));
}

function throws(call, words) {
  try {
    call();
    return 'no error';
  } catch (error) {
    return error instanceof CoreError && error.message === words ? '' : `${error.name}: ${error.message}`;
  }
}

async function wrapper(core, module) {
  const imports = WebAssembly.Module.imports(module).map((i) => `${i.module}.${i.name}`);
  report('no imports', imports.join(', '));
  const listed = readFileSync(join(process.env.WITMARK_SOURCE, 'src/core/wasm/export.c'), 'utf8');
  const questions = [.../#define QUESTIONS\(X\)(.*)/.exec(listed)[1].matchAll(/X\((\w+)\)/g)].map(([, name]) => `wm_${name}`);
  const wanted = ['memory', 'wm_alloc', 'wm_calculations', 'wm_free', 'wm_version', ...questions].sort();
  const exported = WebAssembly.Module.exports(module).map((e) => e.name).sort();
  report('exactly the exports of export.c', exported.join() === wanted.join() ? '' : exported.join());
  report('calculations', core.calculations().length >= 80 && core.calculations().every((c) => c.formula && c.source) ? '' : 'not whole');
  // tyres-01 of the published cases: 18.69 psi
  const tyre = core.calc('tyre-pressure', { gauge: '20 psi', from: '70 degF', to: '50 degF', ambient1: '14.7 psi', ambient2: '14.7 psi' }, 'us');
  report('calc', Math.abs(parseFloat(tyre.outputs.gauge.text) - 18.69) <= 0.01 ? '' : JSON.stringify(tyre.outputs));
  const verdict = core.judge({ value: '1.5 bar', limits: '1.4 .. 1.6 bar', correction: 'cold', reference: '20 degC', with: { tyre: '41 degC' } });
  report('judge', verdict.verdict === 'out' ? '' : JSON.stringify(verdict));
  report('refusal', throws(() => core.calc('tyre-pressure', { gage: '1 bar' }), 'tyre-pressure has no input "gage"; did you mean gauge?'));
  report('no second line through a value', throws(() => core.calc('convert', { value: '1 bar\nto=psi' }),
    'value has a line end or a sign that ends a name; text on one line'));
  const long = 'x'.repeat(4 << 20); // more than the memory it starts with
  report('memory grows', throws(() => core.calc('convert', { value: '1 bar', to: long }), `to: unknown unit "${long}"; a unit such as bar, psi, N.m or L/min`));
  const again = core.calc('convert', { value: '32 psi', to: 'kPa' }).outputs.value.value;
  report('and answers after it', Math.abs(again - 220.6322) < 1e-4 ? '' : again); // units-01
  const fromBytes = await loadCore(readFileSync(coreFile));
  report('from bytes, with a version', /^\d+\.\d+\.\d+$/.test(fromBytes.version()) ? '' : fromBytes.version());
}

const seed = process.env.WITMARK_SEED ?? '20260906';
console.log(`# seed ${seed}`);
const rnd = random(seed);
const module = new WebAssembly.Module(readFileSync(coreFile));
const core = await loadCore(module);
await wrapper(core, module);
flatQuestions(core, 'calc', calcQuestions());
flatQuestions(core, 'judge', judgeQuestions());
flatQuestions(core, 'reserve', reserveQuestions(rnd));
flatQuestions(core, 'meter', meterQuestions(rnd));
flatQuestions(core, 'round', roundQuestions(rnd));
flatQuestions(core, 'exhaust', exhaustQuestions(rnd));
flatQuestions(core, 'adjust', adjustQuestions(rnd));
flatQuestions(core, 'recover', recoverQuestions(rnd));
flatQuestions(core, 'trace', traceQuestions(rnd));
flatQuestions(core, 'find', findQuestions());
publishedCases();
console.log(`1..${number}`);
