package picture

import (
	"math"

	"platebook/engine/mesh"
)

// shadow is how dark the platform is under and around the part: a map of the
// lowest point above each cell, turned into darkness that fades with height,
// and blurred twice, narrowly for contact and widely for the air around.
type shadow struct {
	x0, y0, cell float64
	w, h         int
	dark         []float32 // 0 to 1
}

const shadowCells = 200

func castShadow(m *mesh.Mesh) *shadow {
	lo, hi := mesh.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, mesh.Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, v := range m.V {
		for i := range v {
			lo[i], hi[i] = min(lo[i], v[i]), max(hi[i], v[i])
		}
	}
	size := max(hi[0]-lo[0], hi[1]-lo[1], (hi[2]-lo[2])/2, 1e-6)
	margin := size * 0.4
	s := &shadow{x0: lo[0] - margin, y0: lo[1] - margin, cell: (size + 2*margin) / shadowCells}
	s.w = min(int((hi[0]-lo[0]+2*margin)/s.cell)+1, 2*shadowCells)
	s.h = min(int((hi[1]-lo[1]+2*margin)/s.cell)+1, 2*shadowCells)
	low := make([]float32, s.w*s.h)
	for i := range low {
		low[i] = float32(math.Inf(1))
	}
	for _, f := range m.F {
		s.lower(low, m.V[f[0]], m.V[f[1]], m.V[f[2]])
	}
	near, far := make([]float32, len(low)), make([]float32, len(low))
	for i, z := range low {
		if z = max(z, 0); z < float32(math.Inf(1)) {
			a, b := float64(z)/(0.02*size), float64(z)/(0.35*size)
			near[i] = float32(1 / (1 + float64(a*a)))
			far[i] = float32(1 / (1 + b))
		}
	}
	tmp := make([]float32, len(low))
	for range 2 {
		soften(near, tmp, s.w, s.h, 3)
	}
	for range 3 {
		soften(far, tmp, s.w, s.h, 11)
	}
	s.dark = near
	for i := range near {
		s.dark[i] = min(float32(0.45*near[i])+float32(0.55*far[i]), 1)
	}
	return s
}

// lower takes a facet into the map of lowest points.
func (s *shadow) lower(low []float32, p, q, r mesh.Vec) {
	cx := func(x float64) int { return min(max(int((x-s.x0)/s.cell), 0), s.w-1) }
	cy := func(y float64) int { return min(max(int((y-s.y0)/s.cell), 0), s.h-1) }
	x0, x1 := cx(min(p[0], q[0], r[0])), cx(max(p[0], q[0], r[0]))
	y0, y1 := cy(min(p[1], q[1], r[1])), cy(max(p[1], q[1], r[1]))
	put := func(i int, z float64) {
		if float32(z) < low[i] {
			low[i] = float32(z)
		}
	}
	if x0 == x1 && y0 == y1 {
		put(y0*s.w+x0, min(p[2], q[2], r[2]))
		return
	}
	for _, v := range []mesh.Vec{p, q, r} {
		put(cy(v[1])*s.w+cx(v[0]), v[2])
	}
	cross := func(ax, ay, bx, by float64) float64 { return float64(ax*by) - float64(bx*ay) }
	area := cross(q[0]-p[0], q[1]-p[1], r[0]-p[0], r[1]-p[1])
	if area == 0 {
		return
	}
	for y := y0; y <= y1; y++ {
		my := s.y0 + float64((float64(y)+0.5)*s.cell)
		for x := x0; x <= x1; x++ {
			mx := s.x0 + float64((float64(x)+0.5)*s.cell)
			a := cross(q[0]-mx, q[1]-my, r[0]-mx, r[1]-my) / area
			b := cross(r[0]-mx, r[1]-my, p[0]-mx, p[1]-my) / area
			if c := 1 - a - b; a >= 0 && b >= 0 && c >= 0 {
				put(y*s.w+x, float64(a*p[2])+float64(b*q[2])+float64(c*r[2]))
			}
		}
	}
}

// soften is a box blur; beyond the map there is no shadow.
func soften(a, tmp []float32, w, h, radius int) {
	line := func(in, out []float32, n, step int) {
		var s float64
		at := func(i int) float64 {
			if i < 0 || i >= n {
				return 0
			}
			return float64(in[i*step])
		}
		for i := range radius {
			s += at(i)
		}
		for i := range n {
			s += at(i+radius) - at(i-radius-1)
			out[i*step] = float32(max(s, 0) / float64(2*radius+1))
		}
	}
	for y := range h {
		line(a[y*w:], tmp[y*w:], w, 1)
	}
	for x := range w {
		line(tmp[x:], a[x:], h, w)
	}
}

// at is the darkness at a point of the platform, 0 to 1, between cells linear.
func (s *shadow) at(x, y float64) float32 {
	fx, fy := (x-s.x0)/s.cell-0.5, (y-s.y0)/s.cell-0.5
	if !(fx >= 0 && fy >= 0 && fx < float64(s.w-1) && fy < float64(s.h-1)) {
		return 0
	}
	i, j := int(fx), int(fy)
	u, v := float32(fx-float64(i)), float32(fy-float64(j))
	d := s.dark[j*s.w+i:]
	e := s.dark[(j+1)*s.w+i:]
	top := float32(d[0]*(1-u)) + float32(d[1]*u)
	bottom := float32(e[0]*(1-u)) + float32(e[1]*u)
	return float32(top*(1-v)) + float32(bottom*v)
}
