// A skin coloured by how much of a limit its metal bears, bent by what it moves. Flat arrays of vertices, triangles,
// shares of the limit and moves in; `stops` are the colours from none to the limit, `over` is that past it.
import { THREE } from "nicegui-scene";

export default class Stressed {
  create_mesh(vertices, triangles, shares, moves, stops, over) {
    this.rest = new Float32Array(vertices);
    this.moves = new Float32Array(moves);
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(this.rest.slice(), 3));
    const scale = stops.map((stop) => new THREE.Color(stop)), past = new THREE.Color(over), here = new THREE.Color();
    const colours = new Float32Array(3 * shares.length);
    shares.forEach((share, at) => {
      if (share > 1) here.copy(past);
      else {
        const place = share * (scale.length - 1), low = Math.min(Math.floor(place), scale.length - 2);
        here.lerpColors(scale[low], scale[low + 1], place - low);
      }
      here.toArray(colours, 3 * at);
    });
    geometry.setAttribute("color", new THREE.BufferAttribute(colours, 3));
    geometry.setIndex(triangles);
    geometry.computeVertexNormals();
    this.mesh = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ vertexColors: true, side: THREE.DoubleSide }));
    this.mesh.userData.turn = 0;
    return this.mesh;
  }

  // as it stands when everything moves so many times as far
  bend(times) {
    const spots = this.mesh.geometry.attributes.position;
    for (let at = 0; at < this.rest.length; at++) spots.array[at] = this.rest[at] + times * this.moves[at];
    spots.needsUpdate = true;
    this.mesh.geometry.computeVertexNormals();
    this.mesh.userData.turn += 1; // the view sees by this that it must be drawn
  }

  apply_material() {}
}
