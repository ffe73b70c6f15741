package pose

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// What a part can be stood on.
//
// A body comes to rest on a face of its convex hull, so those are the
// candidates: facets of the hull that lie in one plane make one face, and of
// faces that lean less than a few degrees against each other the largest speaks
// for all, as a round belly would otherwise crowd out everything else. To
// these come the principal axes of the hull's surface, either way up, which
// stand a part straight that has no flat face; where two of the second moments
// agree the axes say nothing and are left out.
//
// Facets of one plane are gathered from the largest outwards and held against
// it, not against their neighbour, so that a finely rounded edge is no face.
//
// Source: rest on hull faces is statics (COMPUTED); the moments of a triangle
// with corners a, b, c and middle g about 0 are A/12·(aaᵀ+bbᵀ+ccᵀ+9ggᵀ)
// (COMPUTED); eigenvectors by Jacobi's rotations (MEMORY: Golub and Van Loan).

// resting is a direction of the part that may face the platform.
type resting struct {
	down mesh.Vec // unit
	area float64  // mm² of hull in that plane; 0 for an axis
	from From
}

const (
	coplanar  = 2e-3 // radians between facets of one face
	apart     = 3 * math.Pi / 180
	same      = 1e-4 // radians: a face this near to the platform lies on it
	mostFaces = 1000 // of which the candidates are chosen
)

// chord is the squared distance of unit vectors at an angle.
func chord(angle float64) float64 { return float64(angle * angle) } // but for angle⁴/12

func gap(a, b mesh.Vec) float64 { d := a.Sub(b); return d.Dot(d) }

// restings lists at most n directions, the part as given first.
func (p *part) restings(n int) []resting {
	own := resting{mesh.Vec{0, 0, -1}, 0, AsGiven}
	all := p.hullFaces()
	all = all[:min(len(all), mostFaces)]
	var picked []resting
	for _, f := range all {
		if gap(f.down, own.down) < chord(same) {
			own.area = f.area
			continue
		}
		if !slices.ContainsFunc(picked, func(q resting) bool { return gap(f.down, q.down) < chord(apart) }) {
			picked = append(picked, f)
		}
	}
	// A face counts for what is nearly in its plane as well.
	weight := make([]float64, len(picked))
	for i, q := range picked {
		for _, f := range all {
			if gap(f.down, q.down) < chord(apart) {
				weight[i] += f.area
			}
		}
	}
	order := make([]int, len(picked))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(weight[j], weight[i]) })
	out := []resting{own}
	axes := p.axes()
	for _, i := range order[:min(len(order), max(n-1-len(axes), 0))] {
		out = append(out, picked[i])
	}
	for _, a := range axes {
		if !slices.ContainsFunc(out, func(q resting) bool { return gap(a, q.down) < chord(apart) }) {
			out = append(out, resting{a, 0, FromAxis})
		}
	}
	return out[:min(len(out), n)]
}

// hullFaces returns the faces of the hull, largest first.
func (p *part) hullFaces() []resting {
	if len(p.faces) == 0 {
		return p.flatFaces()
	}
	type side struct {
		edge  uint64 // its ends, the lower first
		facet int32
	}
	normal := make([]mesh.Vec, len(p.faces)) // twice the area long
	size := make([]float64, len(p.faces))
	sides := make([]side, 0, 3*len(p.faces))
	order := make([]int32, len(p.faces))
	for i, f := range p.faces {
		a := p.hull[f[0]]
		normal[i] = p.hull[f[1]].Sub(a).Cross(p.hull[f[2]].Sub(a))
		size[i] = normal[i].Len()
		order[i] = int32(i)
		for k := range 3 {
			u, v := f[k], f[(k+1)%3]
			sides = append(sides, side{uint64(min(u, v))<<32 | uint64(max(u, v)), int32(i)})
		}
	}
	slices.SortFunc(sides, func(a, b side) int { return cmp.Or(cmp.Compare(a.edge, b.edge), cmp.Compare(a.facet, b.facet)) })
	next := make([][3]int32, len(p.faces)) // neighbours; a hull has three everywhere
	count := make([]uint8, len(p.faces))
	for i := 0; i+1 < len(sides); i++ {
		a, b := sides[i], sides[i+1]
		if a.edge == b.edge && count[a.facet] < 3 && count[b.facet] < 3 {
			next[a.facet][count[a.facet]], next[b.facet][count[b.facet]] = b.facet, a.facet
			count[a.facet]++
			count[b.facet]++
		}
	}
	slices.SortFunc(order, func(i, j int32) int { return cmp.Or(cmp.Compare(size[j], size[i]), cmp.Compare(i, j)) })
	taken := make([]bool, len(p.faces))
	var out []resting
	var todo []int32
	for _, seed := range order {
		if taken[seed] || !(size[seed] > 0) {
			continue
		}
		n := normal[seed].Scale(1 / size[seed])
		sum := mesh.Vec{}
		taken[seed] = true
		todo = append(todo[:0], seed)
		// Invariant: taken facets of this face are summed or in todo.
		for len(todo) > 0 {
			f := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			sum = sum.Add(normal[f])
			for _, g := range next[f][:count[f]] {
				if !taken[g] && size[g] > 0 && gap(normal[g].Scale(1/size[g]), n) < chord(coplanar) {
					taken[g] = true
					todo = append(todo, g)
				}
			}
		}
		if l := sum.Len(); l > 0 {
			out = append(out, resting{level(sum.Scale(1 / l)), l / 2, FromFace})
		}
	}
	slices.SortStableFunc(out, func(a, b resting) int { return cmp.Compare(b.area, a.area) })
	return out
}

// flatFaces are both sides of a part that lies in one plane.
func (p *part) flatFaces() []resting {
	sum := mesh.Vec{}
	for i := 2; i < len(p.hull); i++ {
		sum = sum.Add(p.hull[i-1].Sub(p.hull[0]).Cross(p.hull[i].Sub(p.hull[0])))
	}
	l := sum.Len()
	if !(l > 0) {
		return nil
	}
	n := level(sum.Scale(1 / l))
	return []resting{{n, l / 2, FromFace}, {n.Scale(-1), l / 2, FromFace}}
}

// level takes a unit vector that is an axis but for rounding to be that axis.
func level(n mesh.Vec) mesh.Vec {
	for k := range n {
		var axis mesh.Vec
		axis[k] = math.Copysign(1, n[k])
		if gap(n, axis) < 1e-18 {
			return axis
		}
	}
	return n
}

// axes returns the principal axes of the hull's surface that are well defined,
// both ways.
func (p *part) axes() []mesh.Vec {
	var c [3][3]float64
	var mean mesh.Vec
	total := 0.0
	for _, f := range p.faces {
		a, b, d := p.hull[f[0]], p.hull[f[1]], p.hull[f[2]]
		w := b.Sub(a).Cross(d.Sub(a)).Len()
		g := a.Add(b).Add(d).Scale(1.0 / 3)
		total += w
		mean = mean.Add(g.Scale(w))
		for i := range 3 {
			for j := range 3 {
				s := float64(a[i]*a[j]) + float64(b[i]*b[j]) + float64(d[i]*d[j]) + float64(9*float64(g[i]*g[j]))
				c[i][j] += float64(w / 12 * s)
			}
		}
	}
	if !(total > 0) {
		return nil
	}
	mean = mean.Scale(1 / total)
	for i := range 3 {
		for j := range 3 {
			c[i][j] = c[i][j]/total - float64(mean[i]*mean[j])
		}
	}
	value, vector := jacobi(c)
	var out []mesh.Vec
	for i := range 3 {
		alone := true
		for j := range 3 {
			if i != j && math.Abs(value[i]-value[j]) < 1e-3*math.Abs(value[i]+value[j]) {
				alone = false
			}
		}
		if l := vector[i].Len(); alone && l > 0.5 && l < 2 {
			n := level(vector[i].Scale(1 / l))
			out = append(out, n, n.Scale(-1))
		}
	}
	return out
}

// jacobi returns the eigenvalues and eigenvectors of a symmetric matrix.
func jacobi(a [3][3]float64) (value [3]float64, vector [3]mesh.Vec) {
	q := mesh.Identity().A // columns are the vectors
	// Invariant: q·a·qᵀ is the matrix given. Each round shrinks what is off the
	// diagonal at least by half; fifty leave nothing.
	for range 50 {
		i, j := 0, 1
		for _, k := range [2][2]int{{0, 2}, {1, 2}} {
			if math.Abs(a[k[0]][k[1]]) > math.Abs(a[i][j]) {
				i, j = k[0], k[1]
			}
		}
		if a[i][j] == 0 {
			break
		}
		h := (a[j][j] - a[i][i]) / (2 * a[i][j])
		t := math.Copysign(1, h) / (math.Abs(h) + math.Sqrt(float64(h*h)+1))
		c := 1 / math.Sqrt(float64(t*t)+1)
		s := float64(t * c)
		for k := range 3 { // columns of a and q
			a[k][i], a[k][j] = float64(c*a[k][i])-float64(s*a[k][j]), float64(s*a[k][i])+float64(c*a[k][j])
			q[k][i], q[k][j] = float64(c*q[k][i])-float64(s*q[k][j]), float64(s*q[k][i])+float64(c*q[k][j])
		}
		for k := range 3 { // rows of a
			a[i][k], a[j][k] = float64(c*a[i][k])-float64(s*a[j][k]), float64(s*a[i][k])+float64(c*a[j][k])
		}
	}
	for k := range 3 {
		value[k] = a[k][k]
		vector[k] = mesh.Vec{q[0][k], q[1][k], q[2][k]}
	}
	return value, vector
}
