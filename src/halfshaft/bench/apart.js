// What is inside is drawn by itself: a change in it does not draw the rest of the page again, nor the other way round.
// It holds one element and is none itself.
export default {
  inheritAttrs: false,
  components: {
    inside: {
      inheritAttrs: false,
      render() {
        return this.$parent.$slots.default()[0];
      },
    },
  },
  template: "<inside />",
};
