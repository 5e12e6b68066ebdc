// Many straight lines as one thing. A flat array of ends (x, y, z of each, two ends a line) in, one object out.
import { THREE } from "nicegui-scene";

export default class Strokes {
  create_mesh(ends) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.Float32BufferAttribute(ends, 3));
    this.lines = new THREE.LineSegments(geometry, new THREE.LineBasicMaterial({ transparent: true }));
    this.lines.raycast = () => {};
    return this.lines;
  }

  apply_material({ color, opacity }) {
    this.lines.material.color.set(color ?? "#888888");
    this.lines.material.opacity = opacity;
    this.lines.material.depthWrite = opacity >= 1;
  }
}
