// A solid of triangles with its sharp edges drawn. Flat arrays of vertices and triangles in, a group out.
// `over` draws it in front of everything: an alarm is not hidden by the metal it is about.
import { THREE, apply_material } from "nicegui-scene";

export default class Metal {
  create_mesh(vertices, triangles, edge_colour, edge_degrees, over) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.Float32BufferAttribute(vertices, 3));
    geometry.setIndex(triangles);
    const faces = geometry.toNonIndexed();
    faces.computeVertexNormals();
    this.solid = new THREE.Mesh(faces, new THREE.MeshPhongMaterial({ transparent: true, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }));
    const group = new THREE.Group();
    group.add(this.solid);
    if (edge_colour) {
      const edges = new THREE.LineSegments(
        new THREE.EdgesGeometry(geometry, edge_degrees),
        new THREE.LineBasicMaterial({ color: edge_colour, transparent: true }),
      );
      edges.raycast = () => {};
      group.add(edges);
    }
    if (over) {
      group.children.forEach((child) => {
        child.material.depthTest = false;
        child.renderOrder = 10;
      });
    }
    return group;
  }

  apply_material(material) {
    apply_material(this.solid.material, material);
    // what can be seen through must not hide what is behind it
    this.solid.material.depthWrite = material.opacity >= 1;
  }
}
