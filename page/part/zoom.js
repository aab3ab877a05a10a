// Something to look at closer: a wheel or two fingers zoom, one drags, buttons and + - 0 do without either.
import { html, useRef, useState } from "../lib/ui.js";
import { t } from "../lib/words.js";

const MOST = 5;

/** The transform that keeps the point (x, y) of the frame where it is while the scale changes, held inside the frame. Pure. */
export function zoomed({ scale, x, y }, factor, at, size) {
  const next = Math.min(Math.max(scale * factor, 1), MOST);
  const held = (offset, point, length) => Math.min(0, Math.max(length * (1 - next), point - (point - offset) * (next / scale)));
  return { scale: next, x: held(x, at.x, size.width), y: held(y, at.y, size.height) };
}

/** children: a function of the scale, so that marks can keep their size. */
export function Zoom({ label, children }) {
  const [view, setView] = useState({ scale: 1, x: 0, y: 0 });
  const frame = useRef(null);
  const fingers = useRef(new Map());
  const size = () => ({ width: frame.current.clientWidth, height: frame.current.clientHeight });
  const point = (e) => {
    const box = frame.current.getBoundingClientRect();
    return { x: e.clientX - box.left, y: e.clientY - box.top };
  };
  const middle = () => ({ x: size().width / 2, y: size().height / 2 });
  const by = (factor, at = middle()) => setView((v) => zoomed(v, factor, at, size()));
  const down = (e) => {
    fingers.current.set(e.pointerId, point(e));
  };
  const move = (e) => {
    const before = fingers.current.get(e.pointerId);
    if (!before) {
      return;
    }
    const now = point(e);
    const other = [...fingers.current.entries()].find(([id]) => id !== e.pointerId)?.[1];
    fingers.current.set(e.pointerId, now);
    if (other) {
      const spread = (p) => Math.hypot(p.x - other.x, p.y - other.y) || 1;
      by(spread(now) / spread(before), { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2 });
    } else if (view.scale > 1) {
      if (Math.hypot(now.x - before.x, now.y - before.y) > 2) {
        frame.current.setPointerCapture?.(e.pointerId);
      }
      setView((v) => zoomed({ ...v, x: v.x + now.x - before.x, y: v.y + now.y - before.y }, 1, middle(), size()));
    }
  };
  const up = (e) => fingers.current.delete(e.pointerId);
  const wheel = (e) => {
    if (e.ctrlKey || view.scale > 1) {
      e.preventDefault();
      by(Math.exp(-e.deltaY / 300), point(e));
    }
  };
  const keys = (e) => {
    const run = { "+": () => by(1.4), "-": () => by(1 / 1.4), 0: () => setView({ scale: 1, x: 0, y: 0 }) }[e.key];
    if (run) {
      e.preventDefault();
      e.stopPropagation();
      run();
    }
  };
  return html`<div class="zoom" onKeyDown=${keys}><div class=${view.scale > 1 ? "zoom-frame closer" : "zoom-frame"} ref=${frame} onPointerDown=${down} onPointerMove=${move} onPointerUp=${up} onPointerCancel=${up} onPointerLeave=${up} onWheel=${wheel}>
      <div class="zoom-inner" style=${{ transform: `translate(${view.x}px, ${view.y}px) scale(${view.scale})` }}>${children(view.scale)}</div></div>
    <div class="zoom-buttons" role="group" aria-label=${label}><button type="button" onClick=${() => by(1.5)} aria-label=${t("zoom.closer")}>+</button><button type="button" onClick=${() => by(1 / 1.5)} aria-label=${t("zoom.away")} disabled=${view.scale === 1}>−</button></div></div>`;
}
