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
	p, q, r := &m.V[f[0]], &m.V[f[1]], &m.V[f[2]]
	n := q.Sub(*p).Cross(r.Sub(*p))
	l := n.Len()
	if !(l > 0) {
		return vec32{}
	}
	return vec32{float32(n[0] / l), float32(n[1] / l), float32(n[2] / l)}
}

// smoothAngle is the cosine of the largest angle between a vertex normal and
// the facets around it; beyond, an edge of the part is meant to be sharp there.
const smoothAngle = 0.78

// vertexNormals are the sums of the normals of the facets around each vertex,
// each weighed by its area; zero where the part is not smooth. A mesh that is
// not welded gets none. They are found only for what is seen, as marked.
//
// Rejected: for each corner the sum over the facets within the angle of its
// own, which is finer at the ends of a rounded edge and needs the facets
// around every vertex listed.
func vertexNormals(m *mesh.Mesh, seen []bool) []vec32 {
	if len(m.V) > len(m.F)+1000 {
		return nil
	}
	ns := make([]vec32, len(m.V))
	needs := func(f [3]int32) bool { return seen[f[0]] || seen[f[1]] || seen[f[2]] }
	for _, f := range m.F {
		if !needs(f) {
			continue
		}
		p, q, r := &m.V[f[0]], &m.V[f[1]], &m.V[f[2]]
		n := narrow(q.Sub(*p).Cross(r.Sub(*p)))
		for _, v := range f {
			s := &ns[v]
			s[0], s[1], s[2] = s[0]+n[0], s[1]+n[1], s[2]+n[2]
		}
	}
	for i := range ns {
		if seen[i] {
			ns[i] = ns[i].unit()
		}
	}
	for _, f := range m.F {
		if !needs(f) {
			continue
		}
		n := normal(m, f)
		if n == (vec32{}) {
			continue
		}
		for _, v := range f {
			if ns[v].dot(n) < smoothAngle {
				ns[v] = vec32{}
			}
		}
	}
	return ns
}

// seenVertices marks the corners of every facet in the buffer.
func (b *buffer) seenVertices(m *mesh.Mesh) []bool {
	seen := make([]bool, len(m.V))
	last := int32(-1)
	for _, id := range b.facet {
		if id >= 0 && id != last {
			f := m.F[id]
			seen[f[0]], seen[f[1]], seen[f[2]] = true, true, true
		}
		last = id
	}
	return seen
}
