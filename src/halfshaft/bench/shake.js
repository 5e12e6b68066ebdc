// A thing of a 3D view swung to and fro about a middle: the numbers of view and thing, the middle, how far it goes each
// way as a shift and a turn (rotation vector) at full swing, and swings a second as shown. Without a shift it is put
// back and stands still.
function hsShake(number, name, middle, shift, turn, swings) {
  const view = getElement(number);
  if (!view || !view.objects) return;
  view.shakes = (view.shakes || 0) + 1;
  const mine = view.shakes, began = performance.now();
  const put = (share) => {
    const mesh = view.objects.get(name) && view.objects.get(name).mesh;
    if (!mesh) return;
    const angle = Math.hypot(...turn) * share;
    const axis = mesh.position.clone().set(...turn).normalize();
    mesh.quaternion.setFromAxisAngle(axis, angle);
    const centre = mesh.position.clone().set(...middle);
    mesh.position.set(...shift).multiplyScalar(share).add(centre).sub(centre.clone().applyQuaternion(mesh.quaternion));
  };
  if (!shift) {
    turn = [0, 0, 1];
    shift = [0, 0, 0];
    put(0);
    return;
  }
  const step = () => {
    if (view.shakes !== mine || !view.$el.isConnected) return;
    put(Math.sin(((performance.now() - began) / 1000) * swings * 2 * Math.PI));
    setTimeout(step, 40);
  };
  step();
}
