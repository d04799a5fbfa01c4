// Lets a part be turned where its still picture stands. One small program for WebGL 2; where there is none, or no
// script runs, the still picture stays. The form of the bytes: package desk, Encode.
"use strict";
(() => {
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const open = []; // the views that are on; browsers allow some sixteen at once, four are enough
  const MOST = 4;
  const waiting = new Map();

  // Meshes in a folder come as scripts, because a page opened by file:// may fetch nothing.
  window.dropwrightSolid = (id, text) => {
    const found = waiting.get(id);
    if (!found) return;
    waiting.delete(id);
    const bytes = atob(text);
    const out = new Uint8Array(bytes.length);
    for (let i = 0; i < bytes.length; i++) out[i] = bytes.charCodeAt(i);
    found.resolve(out.buffer);
  };

  const load = (figure) => {
    const src = figure.dataset.solid;
    if (!src.endsWith(".js")) {
      return fetch(src).then((r) => { if (!r.ok) throw new Error("the mesh could not be had (" + r.status + ")"); return r.arrayBuffer(); });
    }
    return new Promise((resolve, reject) => {
      waiting.set(figure.dataset.id, { resolve });
      const script = document.createElement("script");
      script.src = src;
      script.onerror = () => reject(new Error("the mesh could not be read"));
      document.head.append(script);
    });
  };

  const read = (buffer) => {
    const view = new DataView(buffer);
    if (buffer.byteLength < 68 || view.getUint32(0, false) !== 0x64777331) throw new Error("the mesh is not in the form expected");
    const n = (i) => view.getUint32(4 + 4 * i, true);
    const [points, faces, lines, whole] = [n(0), n(1), n(2), n(3)];
    const wide = points > 65536;
    const four = (x) => (x + 3) & ~3;
    const size = wide ? 4 : 2;
    const facesAt = four(68 + 6 * points);
    const linesAt = four(facesAt + 3 * size * faces);
    if (buffer.byteLength < four(linesAt + 2 * size * lines)) throw new Error("the mesh is cut short");
    const Index = wide ? Uint32Array : Uint16Array;
    let sha = "";
    for (let i = 36; i < 68; i++) sha += view.getUint8(i).toString(16).padStart(2, "0");
    return {
      points: new Uint16Array(buffer, 68, 3 * points), faces: new Index(buffer, facesAt, 3 * faces), lines: new Index(buffer, linesAt, 2 * lines),
      wide, whole, sha, low: [view.getFloat32(20, true), view.getFloat32(24, true), view.getFloat32(28, true)], step: view.getFloat32(32, true),
    };
  };

  const VERTEX = `#version 300 es
    in vec3 at; uniform mat4 turn; uniform mat3 eye; uniform vec3 low; uniform float step_; uniform float lift; out vec3 place;
    void main() { vec3 p = at * step_ + low; place = eye * p; gl_Position = turn * vec4(p, 1.0); gl_Position.z -= lift; }`;
  const FRAGMENT = `#version 300 es
    precision highp float; in vec3 place; uniform vec3 colour; uniform float flat_; out vec4 shown;
    void main() {
      vec3 n = -normalize(cross(dFdx(place), dFdy(place))); // towards the eye, whichever side is seen
      float light = 0.58 + 0.36 * max(dot(n, normalize(vec3(-0.35, 0.62, -0.70))), 0.0) + 0.08 * n.y;
      shown = vec4(mix(colour * light, colour, flat_), 1.0);
    }`;

  const hex = (text) => [1, 3, 5].map((i) => parseInt(text.slice(i, i + 2), 16) / 255);
  const INK = hex("#1c1f24"), RULE = hex("#d4d7db");
  const HOME = { yaw: -0.55, pitch: 0.58, zoom: 1 };

  class View {
    constructor(figure, solid) {
      this.figure = figure;
      this.solid = solid;
      this.box = figure.querySelector(".view");
      this.at = this.kept() || { ...HOME };
      this.colours = JSON.parse(figure.dataset.colours || "[]").filter((c) => c.hex);
      this.colour = this.colours.length ? this.colours[0].hex : "#b9bfc6";
      const high = [0, 0, 0];
      for (let i = 0; i < solid.points.length; i++) high[i % 3] = Math.max(high[i % 3], solid.points[i]);
      this.size = high.map((v) => v * solid.step);
      this.middle = solid.low.map((v, i) => v + this.size[i] / 2);
      this.reach = Math.hypot(...this.size) / 2 || 1;
      this.canvas = document.createElement("canvas");
      this.canvas.tabIndex = 0;
      this.canvas.setAttribute("role", "img");
      this.canvas.setAttribute("aria-label", figure.dataset.title + ", " + this.size.map((v) => v.toFixed(1)).join(" by ") + " mm, to be turned: arrow keys turn, plus and minus zoom, Home sets it back");
      const gl = this.canvas.getContext("webgl2", { antialias: true, alpha: false });
      if (!gl) throw new Error("this browser has no WebGL 2 here; the still picture stays");
      this.gl = gl;
      this.prepare();
      this.box.append(this.canvas);
      this.hands();
      this.watch = new ResizeObserver(() => this.draw());
      this.watch.observe(this.canvas);
      this.draw();
    }

    // What was turned stays turned when the page reloads itself.
    key() { return "solid " + location.pathname + " " + this.figure.dataset.id; }
    kept() { try { return JSON.parse(sessionStorage.getItem(this.key())); } catch { return null; } }
    keep() { try { sessionStorage.setItem(this.key(), JSON.stringify(this.at)); } catch { /* no room, no memory */ } }

    prepare() {
      const gl = this.gl;
      const program = gl.createProgram();
      for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
        const shader = gl.createShader(kind);
        gl.shaderSource(shader, text);
        gl.compileShader(shader);
        gl.attachShader(program, shader);
      }
      gl.bindAttribLocation(program, 0, "at");
      gl.linkProgram(program);
      if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error("this browser cannot draw the mesh; the still picture stays");
      gl.useProgram(program);
      this.named = (name) => gl.getUniformLocation(program, name);
      const put = (target, data) => { const b = gl.createBuffer(); gl.bindBuffer(target, b); gl.bufferData(target, data, gl.STATIC_DRAW); return b; };
      const shape = (points, kind, faces) => {
        const array = gl.createVertexArray();
        gl.bindVertexArray(array);
        put(gl.ARRAY_BUFFER, points);
        gl.enableVertexAttribArray(0);
        gl.vertexAttribPointer(0, 3, kind, false, 0, 0);
        put(gl.ELEMENT_ARRAY_BUFFER, faces);
        return array;
      };
      const s = this.solid;
      this.faces = shape(s.points, gl.UNSIGNED_SHORT, s.faces);
      this.lines = shape(s.points, gl.UNSIGNED_SHORT, s.lines);
      this.kind = s.wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT;
      // The bed: a line every 10 mm, a little beyond the part.
      const from = [0, 1].map((i) => Math.floor((s.low[i] - 5) / 10) * 10), to = [0, 1].map((i) => Math.ceil((s.low[i] + this.size[i] + 5) / 10) * 10);
      const pitch = Math.max(10, 10 * Math.ceil(Math.max(to[0] - from[0], to[1] - from[1]) / 400));
      const bed = [];
      for (let x = from[0]; x <= to[0] + 1e-6; x += pitch) bed.push(x, from[1], s.low[2], x, to[1], s.low[2]);
      for (let y = from[1]; y <= to[1] + 1e-6; y += pitch) bed.push(from[0], y, s.low[2], to[0], y, s.low[2]);
      this.bed = gl.createVertexArray();
      gl.bindVertexArray(this.bed);
      put(gl.ARRAY_BUFFER, new Float32Array(bed));
      gl.enableVertexAttribArray(0);
      gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
      this.bedCount = bed.length / 3;
      gl.enable(gl.DEPTH_TEST);
      gl.clearColor(1, 1, 1, 1);
      this.canvas.addEventListener("webglcontextlost", (e) => { e.preventDefault(); shut(this, "The browser gave the drawing up; the still picture is back."); });
    }

    draw() {
      if (this.off) return;
      const gl = this.gl, fine = Math.min(devicePixelRatio || 1, 2);
      const w = Math.max(1, Math.round(this.canvas.clientWidth * fine)), h = Math.max(1, Math.round(this.canvas.clientHeight * fine));
      if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; }
      gl.viewport(0, 0, w, h);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      const { yaw, pitch, zoom } = this.at;
      const [sy, cy, sp, cp] = [Math.sin(yaw), Math.cos(yaw), Math.sin(pitch), Math.cos(pitch)];
      // Right, up and into the picture; parallel, as drawings are.
      const rows = [[cy, -sy, 0], [sy * sp, cy * sp, cp], [sy * cp, cy * cp, -sp]];
      const scale = zoom / (this.reach * 1.08), wide = h / w;
      const by = [scale * Math.min(1, wide), scale * Math.min(1, 1 / wide), 1 / (this.reach * 3)];
      const m = new Float32Array(16);
      rows.forEach((r, i) => {
        for (let k = 0; k < 3; k++) m[k * 4 + i] = r[k] * by[i];
        m[12 + i] = -(r[0] * this.middle[0] + r[1] * this.middle[1] + r[2] * this.middle[2]) * by[i];
      });
      m[15] = 1;
      const eye = new Float32Array(9);
      rows.forEach((r, i) => { for (let k = 0; k < 3; k++) eye[k * 3 + i] = r[k]; });
      const s = this.solid;
      const pass = (array, colour, flat, lift, low, step) => {
        gl.bindVertexArray(array);
        gl.uniformMatrix4fv(this.named("turn"), false, m);
        gl.uniformMatrix3fv(this.named("eye"), false, eye);
        gl.uniform3fv(this.named("colour"), colour);
        gl.uniform1f(this.named("flat_"), flat);
        gl.uniform1f(this.named("lift"), lift);
        gl.uniform3fv(this.named("low"), low);
        gl.uniform1f(this.named("step_"), step);
      };
      pass(this.bed, RULE, 1, -0.002, [0, 0, 0], 1);
      gl.drawArrays(gl.LINES, 0, this.bedCount);
      pass(this.faces, hex(this.colour), 0, 0, s.low, s.step);
      gl.drawElements(gl.TRIANGLES, s.faces.length, this.kind, 0);
      pass(this.lines, INK, 1, 0.0015, s.low, s.step);
      gl.drawElements(gl.LINES, s.lines.length, this.kind, 0);
      this.figure.dataset.drawn = String(Number(this.figure.dataset.drawn || 0) + 1);
    }

    soon() {
      if (this.due) return;
      this.due = true;
      requestAnimationFrame(() => { this.due = false; this.draw(); });
    }

    turn(yaw, pitch) {
      this.at.yaw += yaw;
      this.at.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, this.at.pitch + pitch));
      this.keep();
      this.soon();
    }

    zoom(by) { this.at.zoom = Math.max(0.5, Math.min(12, this.at.zoom * by)); this.keep(); this.soon(); }
    home() { this.at = { ...HOME }; this.keep(); this.soon(); }

    // Keys and buttons turn in a few small steps, so that the eye can follow; at once where motion is not wanted.
    glide(yaw, pitch) {
      if (still.matches) return this.turn(yaw, pitch);
      let left = 6;
      const go = () => { this.turn(yaw / 6, pitch / 6); if (--left > 0 && !this.off) requestAnimationFrame(go); };
      go();
    }

    hands() {
      const c = this.canvas, held = new Map();
      const apart = () => { const [a, b] = [...held.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]) || 1; };
      c.addEventListener("pointerdown", (e) => { c.setPointerCapture(e.pointerId); held.set(e.pointerId, [e.clientX, e.clientY]); });
      c.addEventListener("pointermove", (e) => {
        const was = held.get(e.pointerId);
        if (!was) return;
        if (held.size === 2) {
          const before = apart();
          held.set(e.pointerId, [e.clientX, e.clientY]);
          return this.zoom(apart() / before);
        }
        held.set(e.pointerId, [e.clientX, e.clientY]);
        this.turn((e.clientX - was[0]) * 0.01, (e.clientY - was[1]) * 0.01);
      });
      for (const end of ["pointerup", "pointercancel"]) c.addEventListener(end, (e) => held.delete(e.pointerId));
      // The wheel scrolls the page until the drawing is in focus.
      c.addEventListener("wheel", (e) => { if (document.activeElement === c) { e.preventDefault(); this.zoom(Math.exp(-e.deltaY * 0.0015)); } }, { passive: false });
      c.addEventListener("dblclick", () => this.home());
      const keys = {
        ArrowLeft: () => this.glide(-0.2, 0), ArrowRight: () => this.glide(0.2, 0), ArrowUp: () => this.glide(0, -0.2), ArrowDown: () => this.glide(0, 0.2),
        "+": () => this.zoom(1.2), "=": () => this.zoom(1.2), "-": () => this.zoom(1 / 1.2), Home: () => this.home(), Escape: () => shut(this),
      };
      c.addEventListener("keydown", (e) => { if (keys[e.key] && !e.ctrlKey && !e.metaKey && !e.altKey) { e.preventDefault(); keys[e.key](); } });
      this.tools = document.createElement("div");
      this.tools.className = "tools";
      this.tools.setAttribute("role", "group");
      this.tools.setAttribute("aria-label", "Turn " + this.figure.dataset.title);
      const button = (text, name, act, pressed) => {
        const b = document.createElement("button");
        b.type = "button";
        b.textContent = text;
        if (name) b.setAttribute("aria-label", name);
        if (pressed !== undefined) b.setAttribute("aria-pressed", pressed);
        b.addEventListener("click", () => act(b));
        this.tools.append(b);
        return b;
      };
      button("←", "turn left", keys.ArrowLeft);
      button("→", "turn right", keys.ArrowRight);
      button("↑", "tip up", keys.ArrowUp);
      button("↓", "tip down", keys.ArrowDown);
      button("+", "nearer", keys["+"]);
      button("−", "farther", keys["-"]);
      button("Set back", "", keys.Home);
      if (this.colours.length > 1) {
        const all = this.colours.map((k, i) => button(k.name, k.name + ", " + k.hex, (b) => {
          this.colour = k.hex;
          for (const x of all) x.setAttribute("aria-pressed", x === b);
          this.soon();
        }, i === 0));
      }
      button("Still picture", "", () => shut(this));
      this.box.after(this.tools);
    }
  }

  const note = (figure, text) => {
    let p = figure.querySelector(".told-small");
    if (!p) {
      p = document.createElement("p");
      p.className = "small told-small";
      p.setAttribute("role", "status");
      figure.querySelector(".view").after(p);
    }
    p.textContent = text;
  };

  const shut = (view, why) => {
    if (view.off) return;
    view.off = true;
    open.splice(open.indexOf(view), 1);
    view.watch.disconnect();
    const lose = view.gl.getExtension("WEBGL_lose_context");
    if (lose && !view.gl.isContextLost()) lose.loseContext();
    view.canvas.remove();
    view.tools.remove();
    offer(view.figure, true);
    note(view.figure, why || "");
  };

  const show = (figure, button) => {
    button.disabled = true;
    load(figure).then((buffer) => {
      const solid = read(buffer);
      while (open.length >= MOST) shut(open[0], "Four parts can be turned at once.");
      const view = new View(figure, solid);
      open.push(view);
      button.parentElement.remove();
      figure.dataset.sha = solid.sha;
      const drawn = solid.faces.length / 3;
      note(figure, drawn < solid.whole && solid.whole > drawn * 1.05 ? "Drawn with " + drawn + " of " + solid.whole + " triangles." : "");
      view.canvas.focus({ preventScroll: true });
    }).catch((e) => {
      button.disabled = false;
      note(figure, e.message);
    });
  };

  const offer = (figure, focus) => {
    const tools = document.createElement("div");
    tools.className = "tools";
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Turn it";
    button.setAttribute("aria-label", "Turn it: " + figure.dataset.title);
    button.addEventListener("click", () => show(figure, button));
    tools.append(button);
    figure.querySelector(".view").after(tools);
    if (focus) button.focus({ preventScroll: true });
  };

  const start = () => { for (const figure of document.querySelectorAll("figure[data-solid]")) offer(figure); };
  if (document.readyState === "loading") addEventListener("DOMContentLoaded", start);
  else start();
})();
