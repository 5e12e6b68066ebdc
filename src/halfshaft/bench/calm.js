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
      if (drawn && words === view.text_renderer) hsSpread(words.domElement);
    };
  }
}

// Names that would lie over each other are moved down below one another, a little way only.
const HS_MOST_NAMES = 40;
function hsSpread(root) {
  const names = [...root.children].filter((name) => name.style.display !== "none");
  if (names.length > HS_MOST_NAMES) return;
  names.forEach((name) => (name.style.translate = ""));
  const boxes = names.map((name) => ({ name, box: name.getBoundingClientRect() })).sort((a, b) => a.box.top - b.box.top);
  const taken = [];
  for (const { name, box } of boxes) {
    let down = 0;
    for (const other of taken) {
      const beside = box.right <= other.left || other.right <= box.left;
      const over = box.top + down < other.bottom && other.top < box.bottom + down;
      if (!beside && over) down = other.bottom - box.top + 1;
    }
    if (down > 4 * box.height) down = 0;
    if (down) name.style.translate = `0 ${down}px`;
    taken.push({ left: box.left, right: box.right, top: box.top + down, bottom: box.bottom + down });
    taken.sort((a, b) => a.top - b.top);
  }
}
