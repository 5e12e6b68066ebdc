// A 3D view is drawn when something in it has become another, not twenty times a second for ever: shop laptops and
// tablets draw it with their processor, and the rest of the page needs that too. The number of a view in.
function hsCalm(number) {
  const view = getElement(number);
  const renderer = view && view.renderer;
  if (!renderer || renderer.calm) return;
  renderer.calm = true;
  let seen, drawn, stale = true;

  const mix = (sum, value) => (Math.imul(sum, 31) + ((value * 4096) | 0)) | 0;
  const state = (scene, camera) => {
    let sum = 0;
    const add = (...values) => values.forEach((value) => (sum = mix(sum, value)));
    const place = (thing) => {
      add(...thing.position.toArray(), ...thing.scale.toArray());
      add(thing.quaternion.x, thing.quaternion.y, thing.quaternion.z, thing.quaternion.w);
    };
    place(camera);
    add(camera.aspect ?? 0);
    scene.traverse((thing) => {
      add(thing.id, thing.visible ? 1 : 0, thing.userData.turn || 0);
      place(thing);
      const metal = thing.material;
      if (metal) add(metal.color ? metal.color.getHex() / 4096 : 0, metal.opacity, metal.depthWrite ? 1 : 0);
    });
    return sum;
  };

  for (const name of ["setSize", "setClearColor", "setClearAlpha"]) {
    const change = renderer[name].bind(renderer);
    renderer[name] = (...told) => {
      stale = true;
      return change(...told);
    };
  }
  const draw = renderer.render.bind(renderer);
  renderer.render = (scene, camera) => {
    const now = state(scene, camera);
    drawn = stale || now !== seen;
    seen = now;
    stale = false;
    if (drawn) {
      draw(scene, camera);
      view.$el.dataset.drawn = Number(view.$el.dataset.drawn || 0) + 1;
    }
  };
  for (const words of [view.text_renderer, view.text3d_renderer]) {
    const write = words.render.bind(words);
    words.render = (scene, camera) => {
      if (drawn) write(scene, camera);
    };
  }
}
