package picture

import (
	"math"

	"platebook/engine/mesh"
)

// vec32 is a direction in the part's frame.
type vec32 [3]float32

func (a vec32) dot(b vec32) float32 {
	return float32(a[0]*b[0]) + float32(a[1]*b[1]) + float32(a[2]*b[2])
}

func (a vec32) unit() vec32 {
	n := float32(math.Sqrt(float64(a.dot(a))))
	if !(n > 0) {
		return vec32{}
	}
	return vec32{a[0] / n, a[1] / n, a[2] / n}
}

func narrow(v mesh.Vec) vec32 { return vec32{float32(v[0]), float32(v[1]), float32(v[2])} }

// normal returns the unit normal of a facet, and zero for one without area.
func normal(m *mesh.Mesh, f [3]int32) vec32 {
	p, q, r := m.V[f[0]], m.V[f[1]], m.V[f[2]]
	n := q.Sub(p).Cross(r.Sub(p))
	l := n.Len()
	if !(l > 0) {
		return vec32{}
	}
	return narrow(n.Scale(1 / l))
}

// smoothAngle is the cosine of the angle beyond which a vertex normal is not
// that of the facet: there an edge of the part is meant to be sharp.
const smoothAngle = 0.80

// vertexNormals are the sums of the normals of the facets around each vertex,
// each weighed by its area. A mesh that is not welded gets none.
func vertexNormals(m *mesh.Mesh) []vec32 {
	if len(m.V) > len(m.F)+1000 {
		return nil
	}
	ns := make([]vec32, len(m.V))
	for _, f := range m.F {
		p, q, r := m.V[f[0]], m.V[f[1]], m.V[f[2]]
		n := narrow(q.Sub(p).Cross(r.Sub(p)))
		for _, v := range f {
			s := &ns[v]
			s[0], s[1], s[2] = s[0]+n[0], s[1]+n[1], s[2]+n[2]
		}
	}
	for i := range ns {
		ns[i] = ns[i].unit()
	}
	return ns
}
