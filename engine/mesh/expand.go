package mesh

import "platebook/engine/say"

// totals are what an object comes to when all its components are placed.
type totals struct{ facets, vertices, objects int64 }

const manyTotals = int64(1) << 40 // sums stop here, far above any limit

// expand places the objects of the build. How much that is, is known before
// anything is placed: a few lines of components can ask for billions of facets.
func (p *package3) expand(root *modelPart) (*Mesh, error) {
	build := root.build
	if len(build) == 0 {
		// Core 1.4, 3.4.3 would have nothing made. A file of objects nobody
		// builds is a mistake; what is no component of another is meant.
		used := map[*object]bool{}
		for _, o := range root.order {
			for _, c := range o.comps {
				if t := p.find(root, c); t != nil {
					used[t] = true
				}
			}
		}
		for _, o := range root.order {
			if !used[o] && o.kind != "other" {
				build = append(build, reference{id: o.id, m: identity})
			}
		}
		if len(build) > 0 {
			p.once(say.Of("The file lists nothing to build; all its objects were read."))
		}
	}
	var sum totals
	for _, ref := range build {
		o := p.find(root, ref)
		if o == nil {
			return nil, unreadable(seems3MF, askAgain, "an item of its build refers to object %d, which is not in it", ref.id)
		}
		if err := p.total(o, 1); err != nil {
			return nil, err
		}
		sum.add(o.totals)
	}
	switch {
	case sum.facets > int64(p.lim.Facets):
		return nil, unreadable(seems3MF, askSmall, "with all its copies it comes to more than the %d facets taken here", p.lim.Facets)
	case sum.vertices > int64(p.lim.Vertices):
		return nil, unreadable(seems3MF, askSmall, "with all its copies it comes to more than the %d vertices taken here", p.lim.Vertices)
	case sum.objects > int64(p.lim.Instances):
		return nil, unreadable(seems3MF, askSmall, "it places more than the %d objects taken here", p.lim.Instances)
	}
	x := &placer{p: p, m: &Mesh{V: make([]Vec, 0, sum.vertices), F: make([][3]int32, 0, sum.facets)}, parts: map[ColourPart]uint8{}}
	for _, ref := range build {
		x.refer(root, ref, identity)
	}
	x.finish()
	return x.m, nil
}

// find returns the object a reference in a part means, nil if there is none.
func (p *package3) find(in *modelPart, ref reference) *object {
	if ref.part != "" {
		in = p.parts3[ref.part]
	}
	if in == nil {
		return nil
	}
	return in.objects[ref.id]
}

func (t *totals) add(o *totals) {
	t.facets = min(t.facets+o.facets, manyTotals)
	t.vertices = min(t.vertices+o.vertices, manyTotals)
	t.objects = min(t.objects+o.objects, manyTotals)
}

// total finds what o comes to and that its components form no ring.
func (p *package3) total(o *object, depth int) error {
	if o.onPath {
		return unreadable(seems3MF, askAgain, "object %d is made of itself", o.id)
	}
	if depth > p.lim.Depth {
		return unreadable(seems3MF, askAgain, "its objects are made of objects more than %d deep", p.lim.Depth)
	}
	if o.totals != nil {
		return nil
	}
	o.onPath = true
	defer func() { o.onPath = false }()
	t := &totals{facets: int64(len(o.f)), vertices: int64(len(o.v)), objects: 1}
	for _, c := range o.comps {
		k := p.find(o.part, c)
		if k == nil {
			return unreadable(seems3MF, askAgain, "object %d is made of object %d, which is not in it", o.id, c.id)
		}
		if err := p.total(k, depth+1); err != nil {
			return err
		}
		t.add(k.totals)
	}
	o.totals = t
	return nil
}

// placer gathers placed objects into one mesh.
type placer struct {
	p     *package3
	m     *Mesh
	parts map[ColourPart]uint8
	list  []ColourPart
	tint  []uint8 // of each facet
	over  bool
}

// refer places what ref means in a part, and all that by m.
func (x *placer) refer(in *modelPart, ref reference, m matrix) {
	o := x.p.find(in, ref)
	if o.part != in {
		ref.m = rescale(o.part.unit.MM()/in.unit.MM(), ref.m)
	}
	x.place(o, ref.m.then(m))
}

// place adds o, its own coordinates turned by m.
func (x *placer) place(o *object, m matrix) {
	for _, c := range o.comps {
		x.refer(o.part, c, m)
	}
	if len(o.f) == 0 && o.ready == nil {
		return
	}
	switch o.kind {
	case "support", "solidsupport":
		x.p.once(say.Of("Supports that came with the model were left out; the desk plans its own."))
		return
	case "other":
		x.p.once(say.Of("Objects the file marks as not part of the model were left out."))
		return
	case "surface":
		x.p.once(say.Of("The file calls an object a surface, not a solid."))
	}
	if o.ready == nil {
		o.ready = shared(&Mesh{V: o.v, F: o.f})
		o.v, o.f = nil, nil
	}
	det := m.determinant()
	if det < 0 {
		x.p.once(say.Of("An object is placed as its mirror image; its facets were turned so that it is not inside out."))
	}
	if det == 0 {
		x.p.once(say.Of("An object is placed so that it becomes flat."))
	}
	first := int32(len(x.m.V))
	for _, v := range o.ready.V {
		x.m.V = append(x.m.V, m.apply(v))
	}
	for _, t := range o.ready.F {
		if det < 0 {
			t[1], t[2] = t[2], t[1]
		}
		x.m.F = append(x.m.F, [3]int32{t[0] + first, t[1] + first, t[2] + first})
	}
	if o.props == nil {
		c := x.colour(o, o.prop)
		for range o.ready.F {
			x.tint = append(x.tint, c)
		}
		return
	}
	last, c := noProperty, x.colour(o, o.props[0])
	for i, p := range o.props {
		if i == 0 || p != last {
			c, last = x.colour(o, p), p
		}
		x.tint = append(x.tint, c)
	}
}

// colour returns the colour part of a property; those of equal name and colour are one.
func (x *placer) colour(o *object, p property) uint8 {
	var part ColourPart
	if p != noProperty {
		if g, ok := o.part.groups[p.group]; !ok {
			x.p.once(say.Of("The file gives an object a kind of colour that is not read here, such as a texture."))
		} else if int(p.index) >= len(g) {
			x.p.once(say.Of("The file gives an object a material that is not in its list; it is taken as having none."))
		} else {
			part = g[p.index]
		}
	}
	if k, ok := x.parts[part]; ok {
		return k
	}
	if len(x.list) == 256 {
		x.over = true
		return 255
	}
	k := uint8(len(x.list))
	x.list = append(x.list, part)
	x.parts[part] = k
	return k
}

func (x *placer) finish() {
	if x.over {
		x.p.once(say.Of("The file uses more than 256 colours; those beyond are taken together."))
	}
	if len(x.list) == 1 && x.list[0] == (ColourPart{}) {
		return // nothing is told apart
	}
	for i, c := range x.list {
		if c == (ColourPart{}) {
			x.list[i].Name = "no material given"
		}
	}
	x.p.m.ColourParts = x.list
	if len(x.list) > 1 {
		x.m.Colour = x.tint
	}
}

func (m matrix) apply(v Vec) Vec {
	var r Vec
	for k := range r {
		r[k] = float64(v[0]*m[k]) + float64(v[1]*m[3+k]) + float64(v[2]*m[6+k]) + m[9+k]
		if r[k] == 0 {
			r[k] = 0 // −0 becomes +0
		}
	}
	return r
}

// then returns the transform that does m first and n after it.
func (m matrix) then(n matrix) matrix {
	var r matrix
	for i := range 4 {
		for k := range 3 {
			s := float64(m[3*i]*n[k]) + float64(m[3*i+1]*n[3+k]) + float64(m[3*i+2]*n[6+k])
			if i == 3 {
				s += n[9+k]
			}
			r[3*i+k] = s
		}
	}
	return r
}

func (m matrix) determinant() float64 {
	return Vec{m[0], m[1], m[2]}.Cross(Vec{m[3], m[4], m[5]}).Dot(Vec{m[6], m[7], m[8]})
}

// rescale returns m for an object whose own unit is k units of m.
func rescale(k float64, m matrix) matrix {
	for i := range 9 {
		m[i] *= k
	}
	return m
}
