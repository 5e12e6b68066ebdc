// The car from above: wheels with what they carry, things that can be dragged, centres of gravity with their spread.
// `view` is all that is drawn, lengths in mm, forward to the right and the car's left upward; words come ready to show.
// Tells `moved` {id, x, y, end} while a thing is dragged or stepped by arrow keys, `picked` {id} when one is tapped.
const EVERY_MS = 50, SIDE_PX = 14, TOP_PX = 58, LOW_PX = 96;
const LETTER_PX = 6.5, LINE_PX = 14;  // of a 12 px letter, a little more than most are wide

// Where words go beside what they name: each at the first of its spots that is free, or at the one that covers least.
function placed(names, taken) {
  const found = {};
  for (const one of names) {
    let best = null;
    for (const [x, y] of one.spots) {
      const half = one.words.length * LETTER_PX / 2, box = [x - half, y - LINE_PX + 3, x + half, y + 3];
      const covered = taken.reduce((sum, other) => sum + (other.of === one.id ? 0 :
        Math.max(0, Math.min(box[2], other.box[2]) - Math.max(box[0], other.box[0])) *
        Math.max(0, Math.min(box[3], other.box[3]) - Math.max(box[1], other.box[1])) * (other.weight ?? 1)), 0);
      if (!best || covered < best.covered - 0.5) best = { covered, box, x, y };
      if (!covered) break;
    }
    taken.push({ box: best.box, of: one.id, weight: 2 });
    found[one.id] = { x: best.x, y: best.y };
  }
  return found;
}

export default {
  props: { view: Object },
  data: () => ({ wide: 600, held: null, told: 0 }),
  computed: {
    scale() { return (this.wide - 2 * SIDE_PX) / Math.max(this.view.high[0] - this.view.low[0], 1); },
    tall() { return (this.view.high[1] - this.view.low[1]) * this.scale + TOP_PX + LOW_PX; },
    things() {
      const held = this.held;
      // the one in hand last: it is drawn over the others
      const own = this.view.things.map(one => held && held.id === one.id ? { ...one, x: held.x, y: held.y } : one);
      return own.sort((a, b) => (a.id === this.view.picked) - (b.id === this.view.picked));
    },
    // spots for every name that does not fit into its own square: the squares and the words in them are kept free
    names() {
      const names = [], taken = [];
      for (const one of this.things) {
        const [x, y] = this.middle(one), half = this.size(one) / 2;
        taken.push({ box: [x - half, y - half, x + half, y + half], of: one.id });
        if (this.inside(one)) continue;
        const words = one.words, out = half + words.length * LETTER_PX / 2 + 4;
        const spots = [[x, y + half + 13], [x, y - half - 5], [x + out, y + 4], [x - out, y + 4]];
        for (const more of [1, 2, 3]) spots.push([x, y + half + 13 + more * LINE_PX], [x, y - half - 5 - more * LINE_PX],
          [x + out, y + 4 + more * LINE_PX], [x - out, y + 4 - more * LINE_PX], [x - out, y + 4 + more * LINE_PX]);
        names.push({ id: one.id, words, spots });
      }
      for (const centre of this.view.centres) {
        const x = this.px(centre.x), y = this.py(centre.y), out = centre.words.length * LETTER_PX / 2 + 16;
        taken.push({ box: [x - 9, y - 9, x + 9, y + 9], of: centre.kind });
        names.unshift({ id: centre.kind, words: centre.words,
          spots: [[x, y + centre.under], [x, y - centre.under], [x + out, y + 4], [x - out, y + 4], [x, y + 40], [x, y - 40], [x, y + 54], [x, y - 54]] });
      }
      this.view.spots.forEach((spot, number) => {
        const x = this.px(spot.x), y = this.py(spot.y), under = spot.under * this.scale + 16;
        const spots = [];
        for (const more of [0, 1, 2, 3, 4]) spots.push([x, y + under + more * LINE_PX], [x, y - under + 10 - more * LINE_PX]);
        names.push({ id: "spot " + number, words: spot.words, spots });
      });
      this.view.bays.forEach((bay, number) => {
        const xs = bay.points.map(one => this.px(one[0])), ys = bay.points.map(one => this.py(one[1]));
        const x = (Math.min(...xs) + Math.max(...xs)) / 2, top = Math.min(...ys), low = Math.max(...ys);
        names.push({ id: "bay " + number, words: bay.words,
          spots: [[x, top - 4], [x, low + 13], [x, top - 18], [x, low + 27], [x, top + 14]] });
      });
      return placed(names, taken);
    },
  },
  watch: {
    // what was let go stays where it was put until it is told from there: answers to the way there may still come
    view() {
      const held = this.held, one = held && held.end && this.view.things.find(thing => thing.id === held.id);
      if (one && Math.hypot(one.x - held.x, one.y - held.y) < 1.5) this.held = null;
    },
  },
  mounted() {
    this.seen = new ResizeObserver(([entry]) => { this.wide = Math.max(entry.contentRect.width, 200); });
    this.seen.observe(this.$el);
  },
  unmounted() { this.seen.disconnect(); },
  methods: {
    px(x) { return SIDE_PX + (x - this.view.low[0]) * this.scale; },
    py(y) { return TOP_PX + (this.view.high[1] - y) * this.scale; },
    corners(points) { return points.map(([x, y]) => `${this.px(x)},${this.py(y)}`).join(" "); },
    size(one) { return Math.max(one.side * this.scale, 22); },
    hit(one) { return Math.max(this.size(one), 44); },  // what a finger finds
    middle(one) { return [this.px(one.x + one.aside[0]), this.py(one.y + one.aside[1])]; },
    // what stands in the square: the name, or the number it ends in; nothing where there is room for neither
    inside(one) { return [one.words, one.brief].find(words => words && words.length * LETTER_PX <= this.size(one) - 3) ?? ""; },
    tell(id, x, y, end) { this.$emit("moved", { id, x, y, end }); },
    take(one, event) {
      this.$refs.drawing.setPointerCapture(event.pointerId);  // the thing itself may be put in another order
      this.held = { id: one.id, x: one.x, y: one.y, from: [event.clientX, event.clientY, one.x, one.y], end: false };
      if (this.view.picked !== one.id) this.$emit("picked", { id: one.id });
    },
    drag(event) {
      const held = this.held;
      if (!held || held.end) return;
      const [x, y, begunX, begunY] = held.from;
      if (!held.going && Math.hypot(event.clientX - x, event.clientY - y) < 4) return;
      held.going = true;
      held.x = begunX + (event.clientX - x) / this.scale;
      held.y = begunY - (event.clientY - y) / this.scale;
      const now = performance.now();
      if (now - this.told < EVERY_MS) return;
      this.told = now;
      this.tell(held.id, held.x, held.y, false);
    },
    drop() {
      const held = this.held;
      if (!held || held.end) return;
      if (!held.going) { this.held = null; return; }
      held.end = true;
      this.tell(held.id, held.x, held.y, true);
      setTimeout(() => { if (this.held === held) this.held = null; }, 3000);  // or it was not taken
    },
    key(one, event) {
      const way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (event.key === "Enter" || event.key === " ") this.$emit("picked", { id: one.id });
      else if (way) this.tell(one.id, one.x + way[0] * this.view.step, one.y + way[1] * this.view.step, true);
      else return;
      event.preventDefault();
    },
  },
  template: `
  <div class="hw-plan"><svg ref="drawing" :data-held="held ? held.id : ''" :width="wide" :height="tall" :viewBox="'0 0 ' + wide + ' ' + tall"
    @pointermove="drag" @pointerup="drop" @pointercancel="drop">
    <rect class="hw-body" :x="px(view.body[0])" :y="py(view.body[2])" rx="26"
      :width="(view.body[1] - view.body[0]) * scale" :height="2 * view.body[2] * scale" />
    <path class="hw-middle" :d="'M' + px(view.low[0]) + ' ' + py(0) + ' H' + px(view.high[0])" />
    <text class="hw-way" :x="wide - 12" y="22" text-anchor="end">forward →</text>
    <g v-for="(bay, number) in view.bays"><polygon class="hw-bay" :points="corners(bay.points)" />
      <text class="hw-faint" :x="names['bay ' + number].x" :y="names['bay ' + number].y" text-anchor="middle">{{ bay.words }}</text></g>
    <g v-for="axle in view.axles">
      <path class="hw-axle" :d="'M' + px(axle.x) + ' ' + py(axle.left) + ' V' + py(-axle.left)" />
      <text class="hw-load" :class="axle.mood" :x="px(axle.x)" :y="tall - 28" text-anchor="middle">{{ axle.words }}</text>
      <text class="hw-faint" :x="px(axle.x)" :y="tall - 10" text-anchor="middle">{{ axle.more }}</text></g>
    <g v-for="wheel in view.wheels">
      <rect class="hw-wheel" :class="wheel.mood" rx="5" :x="px(wheel.x - wheel.long / 2)" :y="py(wheel.y + wheel.wide / 2)"
        :width="wheel.long * scale" :height="wheel.wide * scale" />
      <text class="hw-load" :class="wheel.mood" :x="px(wheel.x)" text-anchor="middle"
        :y="wheel.y > 0 ? py(wheel.y + wheel.wide / 2) - 22 : py(wheel.y - wheel.wide / 2) + 18">{{ wheel.words }}</text>
      <text class="hw-faint" :x="px(wheel.x)" text-anchor="middle"
        :y="wheel.y > 0 ? py(wheel.y + wheel.wide / 2) - 6 : py(wheel.y - wheel.wide / 2) + 34">{{ wheel.more }}</text></g>
    <g v-for="(spot, number) in view.spots">
      <path class="hw-spot" :d="'M' + (px(spot.x) - 9) + ' ' + py(spot.y) + ' h18 M' + px(spot.x) + ' ' + (py(spot.y) - 9) + ' v18'" />
      <text class="hw-faint" :x="names['spot ' + number].x" :y="names['spot ' + number].y" text-anchor="middle">{{ spot.words }}</text></g>
    <g v-for="one in things" :key="one.id" class="hw-thing" tabindex="0" role="button" :aria-label="one.say"
      :class="{ 'hw-picked': one.id === view.picked, 'hw-moved': one.moved, 'hw-rides': one.rides }"
      :data-thing="one.id" @pointerdown="take(one, $event)"
      @keydown="key(one, $event)">
      <path v-if="one.was" class="hw-trail" :d="'M' + px(one.was[0]) + ' ' + py(one.was[1]) + ' L' + px(one.x + one.aside[0]) + ' ' + py(one.y + one.aside[1])" />
      <rect class="hw-hit" :x="px(one.x + one.aside[0]) - hit(one) / 2" :y="py(one.y + one.aside[1]) - hit(one) / 2"
        :width="hit(one)" :height="hit(one)" />
      <rect class="hw-square" :x="px(one.x + one.aside[0]) - size(one) / 2" :y="py(one.y + one.aside[1]) - size(one) / 2" rx="4"
        :width="size(one)" :height="size(one)" />
      <text v-if="inside(one)" :x="middle(one)[0]" :y="middle(one)[1] + 4" text-anchor="middle">{{ inside(one) }}</text>
      <text v-else class="hw-beside" :x="names[one.id].x" :y="names[one.id].y" text-anchor="middle">{{ one.words }}</text></g>
    <g v-for="centre in view.centres" class="hw-centre" :class="'hw-' + centre.kind">
      <ellipse :cx="px(centre.x)" :cy="py(centre.y)" :rx="Math.max(centre.spread[0] * scale, 1)" :ry="Math.max(centre.spread[1] * scale, 1)"
        :transform="'rotate(' + -centre.turn + ' ' + px(centre.x) + ' ' + py(centre.y) + ')'" />
      <circle :cx="px(centre.x)" :cy="py(centre.y)" r="8" /><path :d="'M' + (px(centre.x) - 13) + ' ' + py(centre.y) + ' h26 M' + px(centre.x) + ' ' + (py(centre.y) - 13) + ' v26'" />
      <text :x="names[centre.kind].x" :y="names[centre.kind].y" text-anchor="middle">{{ centre.words }}</text></g>
  </svg></div>`,
};
