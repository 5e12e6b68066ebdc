// The tool path of a sheet as it runs: what is cut already, where the torch is, what comes next.
// `view` is all that is drawn: lengths in mm from the sheet's lower left corner, times in s; words come ready to show.
const SPEEDS = [1, 5, 20, 60], PAD_PX = 14;

export default {
  props: { view: Object },
  data: () => ({ at: 0, going: false, speed: 2, close: true }),
  computed: {
    whole() { return Math.ceil(this.view.seconds * 20) / 20; },  // a step of the slider
    step() {
      const steps = this.view.steps;
      let low = 0, high = steps.length - 1;
      while (low < high) {
        const middle = (low + high + 1) >> 1;
        if (steps[middle].t <= this.at) low = middle; else high = middle - 1;
      }
      return low;
    },
    cut() { return this.view.steps.length ? this.view.steps[this.step].c : -1; },
    words() {
      if (this.at >= this.whole) return this.view.done;
      const told = this.cut >= 0 ? this.view.cuts[this.cut].words : this.step === 0 ? this.view.begin : this.view.home;
      const step = this.view.steps[this.step];
      return step ? `${told}: ${this.view.kinds[step.k]}` : told;
    },
    clock() { return `${this.time(this.at)} of ${this.time(this.whole)}`; },
    times() { return SPEEDS[this.speed]; },
  },
  watch: {
    view() { this.at = 0; this.going = false; this.fit(); },
    close() { this.fit(); },
    at() { this.draw(); },
  },
  mounted() {
    this.seen = new ResizeObserver(() => this.fit());
    this.seen.observe(this.$refs.room);
    this.look = new MutationObserver(() => this.draw());
    this.look.observe(document.body, { attributes: true, attributeFilter: ["class"] });
    this.fit();
  },
  unmounted() { this.seen.disconnect(); this.look.disconnect(); cancelAnimationFrame(this.frame); },
  methods: {
    time(seconds) {
      const whole = Math.floor(seconds + 1e-6);
      return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
    },
    fit() {
      const wide = Math.max(this.$refs.room.clientWidth, 200);
      this.low = this.close ? this.view.used.slice(0, 2) : [0, 0];
      const high = this.close ? this.view.used.slice(2) : this.view.size;
      const w = high[0] - this.low[0], h = high[1] - this.low[1];
      this.scale = Math.min((wide - 2 * PAD_PX) / w, Math.max(window.innerHeight * 0.62, 260) / h);
      const canvas = this.$refs.plate, dots = window.devicePixelRatio || 1;
      this.tall = h * this.scale + 2 * PAD_PX;
      canvas.style.height = `${this.tall}px`;
      canvas.width = wide * dots;
      canvas.height = this.tall * dots;
      this.left = (wide - w * this.scale) / 2;
      this.draw();
    },
    px(x) { return this.left + (x - this.low[0]) * this.scale; },
    py(y) { return this.tall - PAD_PX - (y - this.low[1]) * this.scale; },
    draw() {
      const canvas = this.$refs.plate;
      if (!canvas || !this.scale) return;
      const dots = window.devicePixelRatio || 1, pen = canvas.getContext("2d");
      const style = getComputedStyle(document.body), colour = name => style.getPropertyValue(name).trim();
      pen.setTransform(dots, 0, 0, dots, 0, 0);
      pen.clearRect(0, 0, canvas.width, canvas.height);
      pen.lineJoin = pen.lineCap = "round";
      pen.fillStyle = colour("--well");
      pen.strokeStyle = colour("--line");
      pen.lineWidth = 1.5;
      pen.beginPath();
      for (const ring of this.view.sheet) this.trace(pen, ring, true);
      pen.fill("evenodd");
      pen.stroke();
      const gone = new Set();
      this.view.steps.forEach((step, n) => { if (step.done && n < this.step) gone.add(step.c); });
      if (this.at >= this.whole) this.view.cuts.forEach((_, n) => gone.add(n));
      this.view.cuts.forEach((cut, n) => {
        if (!cut.area || !gone.has(n)) return;
        pen.fillStyle = colour("--sheet");
        pen.beginPath();
        this.trace(pen, cut.line, true);
        pen.fill();
      });
      pen.lineWidth = 1;
      pen.strokeStyle = colour("--faint");
      pen.globalAlpha = 0.55;
      pen.beginPath();
      for (const cut of this.view.cuts) this.trace(pen, cut.line, false);
      pen.stroke();
      pen.globalAlpha = 1;
      const kerf = Math.max(this.view.kerf * this.scale, 2.2);
      this.view.steps.forEach((step, n) => {
        if (n > this.step || !step.p) return;
        const line = n < this.step ? step.p : this.upTo(step);
        const off = step.k === "travel";
        if (off && n < this.step) return;
        pen.strokeStyle = off ? colour("--mark") : step.k === "mark" ? colour("--good") : colour("--ink");
        pen.lineWidth = off || step.k === "mark" ? 1.5 : kerf;
        pen.setLineDash(off ? [6, 5] : []);
        pen.beginPath();
        this.trace(pen, line, false);
        pen.stroke();
        pen.setLineDash([]);
      });
      const spot = this.spot();
      if (!spot) return;
      const step = this.view.steps[this.step], lit = this.at < this.whole && ["cut", "lead", "wait", "sink"].includes(step.k);
      pen.beginPath();
      pen.arc(this.px(spot[0]), this.py(spot[1]), lit ? 8 : 6, 0, 7);
      pen.fillStyle = lit ? colour("--bad-fill") : colour("--sheet");
      pen.strokeStyle = lit ? colour("--ink") : colour("--mark");
      pen.lineWidth = 2;
      pen.fill();
      pen.stroke();
    },
    trace(pen, flat, close) {
      for (let n = 0; n < flat.length; n += 2) {
        if (n) pen.lineTo(this.px(flat[n]), this.py(flat[n + 1])); else pen.moveTo(this.px(flat[n]), this.py(flat[n + 1]));
      }
      if (close) pen.closePath();
    },
    upTo(step) {
      const flat = step.p, runs = [];
      let whole = 0;
      for (let n = 2; n < flat.length; n += 2) {
        runs.push(Math.hypot(flat[n] - flat[n - 2], flat[n + 1] - flat[n - 1]));
        whole += runs[runs.length - 1];
      }
      let left = whole * Math.min(Math.max((this.at - step.t) / Math.max(step.s, 1e-9), 0), 1);
      const out = flat.slice(0, 2);
      for (let n = 0; n < runs.length; n++) {
        const share = runs[n] > 0 ? Math.min(left / runs[n], 1) : 1;
        out.push(flat[2 * n] + (flat[2 * n + 2] - flat[2 * n]) * share, flat[2 * n + 1] + (flat[2 * n + 3] - flat[2 * n + 1]) * share);
        left -= runs[n];
        if (left <= 0) break;
      }
      return out;
    },
    spot() {
      for (let n = this.step; n >= 0; n--) {
        const step = this.view.steps[n];
        if (step.p) return (n === this.step ? this.upTo(step) : step.p).slice(-2);
      }
      return null;
    },
    play() {
      if (this.going) { this.going = false; return; }
      if (this.at >= this.whole) this.at = 0;
      this.going = true;
      this.last = performance.now();
      this.frame = requestAnimationFrame(this.tick);
    },
    tick(now) {
      if (!this.going) return;
      this.at = Math.min(this.at + Math.max(now - this.last, 0) / 1000 * this.times, this.whole);
      this.last = now;
      if (this.at >= this.whole) this.going = false; else this.frame = requestAnimationFrame(this.tick);
    },
    hop(way) {
      const begins = this.view.cuts.map(cut => cut.t);
      const next = way > 0 ? begins.find(t => t > this.at + 1e-6) : begins.filter(t => t < this.at - 1e-6).pop();
      this.at = next === undefined ? (way > 0 ? this.whole : 0) : next;
    },
    pick(event) {
      const box = this.$refs.plate.getBoundingClientRect();
      const x = (event.clientX - box.left - this.left) / this.scale + this.low[0];
      const y = (this.tall - PAD_PX - (event.clientY - box.top)) / this.scale + this.low[1];
      let best = 24 / this.scale, found = -1;
      this.view.cuts.forEach((cut, number) => {
        for (let n = 0; n < cut.line.length; n += 2) {
          const far = Math.hypot(cut.line[n] - x, cut.line[n + 1] - y);
          if (far < best) { best = far; found = number; }
        }
      });
      if (found >= 0) this.at = this.view.cuts[found].t;
    },
  },
  template: `
    <div class="hs-play">
      <div ref="room"><canvas ref="plate" class="hs-plate" role="img" :aria-label="view.label" @click="pick"></canvas></div>
      <input class="hs-slide" type="range" min="0" :max="whole" step="0.05" v-model.number="at" :aria-label="view.slider"
             :aria-valuetext="clock" @pointerdown="going = false">
      <div class="hs-row hs-play-words"><span class="hs-grow">{{ words }}</span><span class="hs-num">{{ clock }}</span></div>
      <div class="hs-play-keys">
        <button type="button" @click="hop(-1)">{{ view.back }}</button>
        <button type="button" class="hs-play-main" @click="play">{{ going ? view.stop : view.play }}</button>
        <button type="button" @click="hop(1)">{{ view.on }}</button>
        <button type="button" @click="speed = (speed + 1) % 4">{{ times === 1 ? view.real : times + view.times }}</button>
        <button type="button" v-if="view.roomy" @click="close = !close">{{ close ? view.whole : view.near }}</button>
      </div>
    </div>`,
};
