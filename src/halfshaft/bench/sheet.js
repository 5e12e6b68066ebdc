// Sheets of one kind with the parts on them. `view` is all that is drawn, lengths in mm, y upward, words ready to show.
// Tells `moved` {id, sheet, x, y, end} while a part is dragged, also onto another sheet, or stepped by arrow keys;
// `turned` {id, by} on the keys , and . ; `picked` {id} when a part is tapped.
const EVERY_MS = 60, TOP_PX = 30, GAP_PX = 40, PAD_PX = 6, TALL_PX = 430;

export default {
  props: { view: Object },
  data: () => ({ wide: 600, held: null, told: 0 }),
  computed: {
    sheets() {
      let y = TOP_PX;
      return this.view.sheets.map(sheet => {
        const scale = Math.min((this.wide - 2 * PAD_PX) / sheet.size[0], TALL_PX / sheet.size[1]);
        const at = { ...sheet, scale, left: PAD_PX, top: y, tall: sheet.size[1] * scale, long: sheet.size[0] * scale };
        y += at.tall + TOP_PX + GAP_PX;
        return at;
      });
    },
    tall() { const last = this.sheets[this.sheets.length - 1]; return last ? last.top + last.tall + GAP_PX : 40; },
    things() {
      const held = this.held;
      const own = this.view.things.map(one => held && held.id === one.id ? { ...one, sheet: held.sheet, x: held.x, y: held.y } : one);
      // the one in hand last: it is drawn over the others
      return own.sort((a, b) => (a.id === this.view.picked) - (b.id === this.view.picked));
    },
  },
  watch: { view() { if (this.held && this.held.end) this.held = null; } },
  mounted() {
    this.seen = new ResizeObserver(([entry]) => { this.wide = Math.max(entry.contentRect.width, 240); });
    this.seen.observe(this.$el);
  },
  unmounted() { this.seen.disconnect(); },
  methods: {
    of(name) { return this.sheets.find(sheet => sheet.name === name) || this.sheets[0]; },
    frame(sheet) { return `translate(${sheet.left} ${sheet.top + sheet.tall}) scale(${sheet.scale} ${-sheet.scale})`; },
    laid(one) { return `${this.frame(this.of(one.sheet))} translate(${one.x} ${one.y}) rotate(${one.turn})`; },
    spot(one) {  // middle of a part on the screen
      const sheet = this.of(one.sheet), turn = one.turn * Math.PI / 180, [a, b] = one.middle;
      const x = one.x + a * Math.cos(turn) - b * Math.sin(turn), y = one.y + a * Math.sin(turn) + b * Math.cos(turn);
      return [sheet.left + x * sheet.scale, sheet.top + sheet.tall - y * sheet.scale];
    },
    big(one) { return Math.max(9, Math.min(20, one.room * this.of(one.sheet).scale)); },
    point(event) { const box = this.$refs.drawing.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; },
    under([x, y]) { return this.sheets.find(s => x >= s.left - 4 && x <= s.left + s.long + 4 && y >= s.top - TOP_PX && y <= s.top + s.tall + GAP_PX / 2); },
    mm(sheet, [x, y]) { return [(x - sheet.left) / sheet.scale, (sheet.top + sheet.tall - y) / sheet.scale]; },
    take(one, event) {
      this.$refs.drawing.setPointerCapture(event.pointerId);
      const [x, y] = this.mm(this.of(one.sheet), this.point(event));
      this.held = { id: one.id, sheet: one.sheet, x: one.x, y: one.y, grip: [x - one.x, y - one.y], from: [event.clientX, event.clientY], end: false };
      if (this.view.picked !== one.id) this.$emit("picked", { id: one.id });
    },
    drag(event) {
      const held = this.held;
      if (!held || held.end) return;
      if (!held.going && Math.hypot(event.clientX - held.from[0], event.clientY - held.from[1]) < 4) return;
      held.going = true;
      const at = this.point(event), sheet = this.under(at) || this.of(held.sheet), [x, y] = this.mm(sheet, at);
      held.sheet = sheet.name; held.x = x - held.grip[0]; held.y = y - held.grip[1];
      const now = performance.now();
      if (now - this.told < EVERY_MS) return;
      this.told = now;
      this.tell(held, false);
    },
    drop() {
      const held = this.held;
      if (!held || held.end) return;
      if (!held.going) { this.held = null; return; }
      held.end = true;
      this.tell(held, true);
    },
    tell(one, end) { this.$emit("moved", { id: one.id, sheet: one.sheet, x: one.x, y: one.y, end }); },
    key(one, event) {
      const way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      const by = this.view.step * (event.shiftKey ? 10 : 1);
      if (event.key === "Enter" || event.key === " ") this.$emit("picked", { id: one.id });
      else if (way) this.tell({ ...one, x: one.x + way[0] * by, y: one.y + way[1] * by }, true);
      else if (event.key === "," || event.key === ".") this.$emit("turned", { id: one.id, by: event.key === "," ? 15 : -15 });
      else return;
      event.preventDefault();
    },
  },
  template: `
  <div class="hn-sheets"><svg ref="drawing" :width="wide" :height="tall" :viewBox="'0 0 ' + wide + ' ' + tall"
    @pointermove="drag" @pointerup="drop" @pointercancel="drop">
    <defs><pattern id="hn-clamp" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
      <rect width="9" height="9" class="hn-clamp-back" /><path d="M0 0 V9" class="hn-clamp-line" /></pattern>
      <marker id="hn-tip" viewBox="0 0 10 10" refX="8" refY="5" markerWidth="7" markerHeight="7" orient="auto-start-reverse">
        <path d="M0 0 L10 5 L0 10 Z" class="hn-tip" /></marker></defs>
    <g v-for="sheet in sheets" :key="sheet.name" :data-sheet="sheet.name">
      <text class="hn-name" :x="sheet.left" :y="sheet.top - 10">{{ sheet.name }}</text>
      <text class="hn-faint" :x="wide - 8" :y="sheet.top - 10" text-anchor="end">{{ sheet.words }}</text>
      <g :transform="frame(sheet)">
        <path class="hn-metal" :d="sheet.metal" fill-rule="evenodd" vector-effect="non-scaling-stroke" />
        <path class="hn-kept" :d="sheet.kept" fill-rule="evenodd" />
        <path class="hn-room" :d="sheet.room" vector-effect="non-scaling-stroke" /></g>
      <rect v-for="clamp in sheet.clamps" class="hn-clamp" :x="sheet.left + clamp[0] * sheet.scale" :y="sheet.top + sheet.tall - clamp[3] * sheet.scale"
        :width="(clamp[2] - clamp[0]) * sheet.scale" :height="(clamp[3] - clamp[1]) * sheet.scale" />
      <text v-if="sheet.rolled === null" class="hn-faint" :x="sheet.left" :y="sheet.top + sheet.tall + 24">rolling direction not told</text>
      <g v-else><text class="hn-faint" :x="sheet.left" :y="sheet.top + sheet.tall + 24">rolled this way</text>
        <path class="hn-way" marker-start="url(#hn-tip)" marker-end="url(#hn-tip)"
          :d="'M-17 0 H17'" :transform="'translate(' + (sheet.left + 122) + ' ' + (sheet.top + sheet.tall + 20) + ') rotate(' + -sheet.rolled + ')'" /></g></g>
    <g v-for="one in things" :key="one.id" class="hn-part" tabindex="0" role="button" :aria-label="one.say" :data-part="one.id"
      :class="{ 'hn-picked': one.id === view.picked, 'hn-moved': one.moved, 'hn-bad': one.bad }"
      @pointerdown="take(one, $event)" @keydown="key(one, $event)">
      <circle class="hn-hit" :cx="spot(one)[0]" :cy="spot(one)[1]" r="22" />
      <g :transform="laid(one)"><path class="hn-shape" :d="one.shape" fill-rule="evenodd" vector-effect="non-scaling-stroke" />
        <path class="hn-slit" :d="one.slits" vector-effect="non-scaling-stroke" /></g>
      <circle class="hn-dot" :cx="spot(one)[0]" :cy="spot(one)[1]" :r="big(one) * .72" />
      <text :x="spot(one)[0]" :y="spot(one)[1] + big(one) * .35" text-anchor="middle" :style="{ fontSize: big(one) + 'px' }">{{ one.number }}</text></g>
  </svg></div>`,
};
