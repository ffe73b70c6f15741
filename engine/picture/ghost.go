package picture

import (
	"platebook/engine/mesh"
)

// ghost is how supports are drawn: upright lines and a breath of colour laid
// over whatever is behind, so that the part stays readable through them. Only
// their nearest surface is drawn: many columns side by side look like one
// curtain, not like a thicket. What stands behind the part is not seen.
//
// Rejected: every surface translucent, which grows darker with each column and
// hides the part.
type ghost struct {
	b    *buffer
	face []leaf
	near []bool // by pixel
}

// leaf is a facet of a ghost.
type leaf struct {
	n      vec32   // unit normal towards the eye
	dx, dy float32 // change of depth to the next sample
}

func newGhost(m *mesh.Mesh, cam *camera, w, h, workers int) *ghost {
	g := &ghost{b: render(project(m.V, cam, workers), m.F, w*super, h*super, workers), face: make([]leaf, len(m.F)), near: make([]bool, w*h)}
	right, up, eye := narrow(cam.right), narrow(cam.up), narrow(cam.eye)
	chunks(len(m.F), 32, workers, func(_, from, to int) {
		for i := from; i < to; i++ {
			n := normal(m, m.F[i])
			if n.dot(eye) < 0 {
				n = vec32{-n[0], -n[1], -n[2]}
			}
			toward := max(n.dot(eye), 0.05)
			g.face[i] = leaf{n, -n.dot(right) / toward, n.dot(up) / toward}
		}
	})
	each(h, workers, func(_, y int) {
		for x := range w {
			for k := range super * super {
				if g.b.facet[(y*super+k/super)*g.b.w+x*super+k%super] >= 0 {
					g.near[y*w+x] = true
				}
			}
		}
	})
	return g
}

// How strongly a ghost is laid on, of 256.
const (
	veilLine = 165 // its hatching
	veilEdge = 230 // its outline
	veilFold = 120 // its other edges
	veilTint = 18  // between the lines, in the light; twice that in the shade
)

// veil lays the ghost over the colour at a sample whose part is at depth z.
func (d *shader) veil(c rgb, z float32, x, y int) rgb {
	g := d.ghost
	at := y*g.b.w + x
	id := g.b.facet[at]
	if id < 0 || g.b.depth[at] <= z+0.5 || d.ground != nil && d.sunk(g.b.depth[at], x, y) {
		return c
	}
	if a := g.edge(x, y, max(d.reach, 2), d.fine); a > 0 {
		return mix(c, petrol, a)
	}
	if d.upright(x) {
		return mix(c, petrol, veilLine)
	}
	dark := 1 - float32(0.5+float32(0.5*g.face[id].n.dot(d.light)))
	return mix(c, petrol, veilTint+int(veilTint*dark))
}

// upright reports whether a line of the hatching of supports is at a sample.
func (d *shader) upright(x int) bool { return x%d.hatch < max(d.hatch/9, 1) }

// edge is how strong a line there is because the ghost ends or folds within
// reach of a sample.
func (g *ghost) edge(x, y, reach int, fine float32) (strength int) {
	at := y*g.b.w + x
	here := &g.face[g.b.facet[at]]
	for r := 1; r <= reach; r++ {
		for _, to := range [4][2]int{{-r, 0}, {r, 0}, {0, -r}, {0, r}} {
			i, j := x+to[0], y+to[1]
			if i < 0 || j < 0 || i >= g.b.w || j >= g.b.h {
				continue
			}
			id := g.b.facet[j*g.b.w+i]
			if id < 0 {
				return veilEdge
			}
			if id == g.b.facet[at] {
				continue
			}
			there := &g.face[id]
			if here.n.dot(there.n) < 0.87 {
				strength = veilFold
				continue
			}
			sx, sy := float32(to[0]), float32(to[1])
			mine := g.b.depth[at] + float32(here.dx*sx) + float32(here.dy*sy)
			its := g.b.depth[j*g.b.w+i] - float32(there.dx*sx) - float32(there.dy*sy)
			if a, b := g.b.depth[j*g.b.w+i]-mine, its-g.b.depth[at]; a > fine && b > fine || a < -fine && b < -fine {
				strength = veilFold
			}
		}
	}
	return strength
}
