package mesh

import (
	"platebook/engine/say"
)

// 3MF core specification 1.4.0. A model part holds resources (objects, each a
// mesh or a list of placed components; groups of materials) and a build: items
// that place objects. The document is read once, forward, into objects; expand
// then places them. Elements of other namespaces are passed over, and said.

const (
	nsCore     = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	nsMaterial = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
	nsProduce  = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
)

// namespaces in words, for those a model may need (the specifications'
// published names; MEMORY for the less common).
var namespaces = map[string]say.Form{
	"http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02":       "beam lattices",
	"http://schemas.microsoft.com/3dmanufacturing/beamlattice/balls/2020/07": "beam lattices with balls",
	"http://schemas.microsoft.com/3dmanufacturing/slice/2015/07":             "ready-made slices",
	"http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/04":     "encrypted content",
	"http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/07":     "encrypted content",
	"http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07":      "named sets of triangles",
	"http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01":               "volumetric data",
	"http://schemas.3mf.io/3dmanufacturing/implicit/2023/12":                 "implicit shapes",
	"http://schemas.3mf.io/3dmanufacturing/booleanoperations/2023/07":        "boolean operations",
	"http://schemas.3mf.io/3dmanufacturing/displacement/2023/10":             "displaced surfaces",
	"http://schemas.microsoft.com/3dmanufacturing/displacement/2022/07":      "displaced surfaces",
	nsMaterial: "colours and textures",
	nsProduce:  "objects in several parts",
}

// namesNone is why the numbers of a file that says nothing are millimetres.
const namesNone say.Form = "The file names no unit, which for 3MF means millimetres."

// matrix is an affine transform in 3MF order: rows m00 m01 m02, m10 …, m30 m31
// m32, for row vectors: p' = p·M.
type matrix [12]float64

var identity = matrix{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

// reference is a component or a build item: an object and where it goes.
type reference struct {
	part string // of the object; empty means the same part
	id   int
	m    matrix
}

// property names one entry of a property group.
type property struct{ group, index int32 }

var noProperty = property{-1, -1}

type object struct {
	id    int
	kind  string
	name  string
	prop  property
	v     []Vec
	f     [][3]int32
	props []property // of each facet, nil if no facet has its own
	comps []reference
	part  *modelPart

	// what expand finds
	ready  *Mesh // shared vertices, local coordinates
	totals *totals
	onPath bool
}

type modelPart struct {
	name    string
	unit    Unit
	stated  bool
	title   string
	objects map[int]*object
	order   []*object
	groups  map[int32][]ColourPart
	build   []reference
}

// package3 is a 3MF package being read.
type package3 struct {
	*opc
	m         *Model
	parts3    map[string]*modelPart
	triangles int
	vertices  int
	places    int // objects, components, items and materials met
	said      map[string]bool
}

func (f *file) threeMF() (*Model, error) {
	o, err := f.openPackage()
	if err != nil {
		return nil, err
	}
	start, odd, err := o.startPart()
	if err != nil {
		return nil, err
	}
	p := &package3{opc: o, m: &Model{Format: ThreeMF}, parts3: map[string]*modelPart{}, said: map[string]bool{}}
	if !odd.Empty() {
		p.m.warn(odd)
	}
	root, err := p.load(start)
	if err != nil {
		return nil, err
	}
	mesh, err := p.expand(root)
	if err != nil {
		return nil, err
	}
	p.m.Name = root.title
	if p.m.Name == "" {
		for _, o := range root.order {
			if o.name != "" {
				p.m.Name = o.name
				break
			}
		}
	}
	p.m.Facets = len(mesh.F)
	if !root.stated {
		p.m.UnitReason = say.Of(namesNone)
	}
	return f.finish(p.m, mesh, root.unit)
}

// once warns of a thing the first time it is met.
func (p *package3) once(s say.Saying) {
	if key := s.String(); !p.said[key] && len(p.said) < 50 {
		p.said[key] = true
		p.m.warn(s)
	}
}

func (p *package3) count() error {
	if p.places++; p.places > p.lim.Instances {
		return unreadable(seems3MF, askSmall, "it lists more than the %d objects and materials taken here", p.lim.Instances)
	}
	return nil
}

// load reads a model part once, and the parts it refers to.
func (p *package3) load(name string) (*modelPart, error) {
	if m := p.parts3[name]; m != nil {
		return m, nil
	}
	r, err := p.open(name)
	if err != nil {
		return nil, err
	}
	defer r.r.Close()
	d := &modelReader{p: p, r: r, d: r.decoder(), ns: map[string]string{}, part: &modelPart{
		name: name, unit: Millimetre, objects: map[int]*object{}, groups: map[int32][]ColourPart{},
	}}
	p.parts3[name] = d.part
	err = d.model()
	if err == nil {
		err = r.drain()
	}
	if err != nil {
		return nil, r.said(name, err)
	}
	// References are followed after the part is closed, so nesting costs no memory.
	r.r.Close()
	for _, o := range d.part.order {
		for i := range o.comps {
			if o.comps[i].part != "" {
				if _, err := p.load(o.comps[i].part); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range d.part.build {
		if d.part.build[i].part != "" {
			if _, err := p.load(d.part.build[i].part); err != nil {
				return nil, err
			}
		}
	}
	return d.part, nil
}
