package quote

import (
	"errors"
	"fmt"
	"strings"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/say"
	"platebook/engine/slice"
)

// read reads, heals and places what is asked about. When a file cannot be read
// the answer says so and there are no facts.
func read(a *Ask) (*Answer, *findings.Facts) {
	ans := &Answer{File: a.Sources[0].Name, Findings: []findings.Finding{}}
	for _, s := range a.Sources[1:] {
		ans.With = append(ans.With, s.Name)
	}
	models := make([]*mesh.Model, 0, len(a.Sources))
	for _, s := range a.Sources {
		a.say("reading " + s.Name)
		m, err := mesh.ReadAs(s.Bytes, s.Size, s.Name, a.Unit, mesh.Limits{})
		if err != nil {
			ans.conclude([]findings.Finding{unreadable(s, len(a.Sources) > 1, err)})
			return ans, nil
		}
		models = append(models, m)
	}
	first := models[0]
	facts := &findings.Facts{
		Unit: string(first.Unit), UnitReason: first.UnitReason, UnitStated: first.UnitStated, UnitDoubtful: first.UnitDoubtful,
		Way: a.Way, Printer: a.Printer, Copies: a.copies(),
	}
	ans.Format, ans.Unit, ans.UnitReason, ans.UnitSaying = string(first.Format), string(first.Unit), first.UnitReason.String(), first.UnitReason
	whole, colours := together(a, models)
	for _, m := range models {
		ans.Facets += m.Facets
		facts.Warnings = append(facts.Warnings, m.Warnings...)
	}
	if n := len(colours); n > 1 && (a.OneColour || first.Format == mesh.OBJ && len(models) == 1) {
		if !a.OneColour {
			facts.Warnings = append(facts.Warnings, say.Of("The file tells %d surface materials apart, for looks; it is printed in one colour.", n))
		}
		one := *whole
		one.Colour = nil
		whole, colours = &one, nil
	}
	for i, c := range colours {
		if len(colours) > 1 {
			ans.ColourParts = append(ans.ColourParts, Colour{Name: colourName(c, i), Colour: hex(c), Material: a.material(i).ID})
		}
	}
	facts.WantedMaterials = max(1, len(colours))
	if extra := len(a.Materials) - facts.WantedMaterials; extra > 0 {
		facts.Warnings = append(facts.Warnings, say.Of("%d materials are given and the print has use for %d: the last are not used.", len(a.Materials), facts.WantedMaterials))
	}
	if a.Way.Supports == printer.Soluble {
		facts.WantedMaterials++
	}
	tools, _ := a.tools(len(colours), a.Way.Supports)
	facts.Materials = distinct(tools)

	a.say("healing the mesh")
	facts.Mesh, facts.Repairs = mesh.Heal(whole)
	facts.Found = facts.Repairs.Before
	after := facts.Repairs.After
	if after.Closed() && after.NonManifold > 0 && after.Bodies > 1 {
		// Bodies that touch along an edge share its vertices: told apart, each
		// rests on the other instead of being one with it.
		facts.Mesh = mesh.Merge(mesh.Bodies(facts.Mesh)...)
	}
	ans.Healed, ans.HealedSayings = facts.Repairs.Sentences(), facts.Repairs.Sayings()
	ans.ClosedAsSent = facts.Found.Closed()
	ans.Closed, ans.Bodies, ans.Cavities = after.Closed(), after.Bodies+after.OpenShells, after.Cavities

	ans.Scale, ans.SizeMM = 1, whole.Bounds().Size()
	if after.Facets == 0 || ans.Bodies == 0 {
		ans.conclude([]findings.Finding{finding("nothing-solid", findings.Stop,
			say.Of("The file holds no solid: its facets are without area or enclose no space, so there is nothing to print. Ask for the model to be exported again."))})
		return ans, nil
	}
	box := facts.Mesh.Bounds()
	ans.Scale = a.factor(box.Size())
	facts.Placed = place(facts.Mesh, box, ans.Scale)
	if a.Turn {
		a.say("looking for the right side up")
		if s, _, err := a.rightSideUp(facts.Mesh, len(ans.ColourParts)); err == nil {
			facts.Mesh = mesh.Transform(facts.Mesh, s.Pose)
			facts.Placed = facts.Placed.Then(s.Pose)
			ans.Pose, ans.PoseSaying = s.why.String(), s.why
		}
	}
	facts.Measures = mesh.Measure(facts.Mesh)
	ans.Solid = facts.Mesh
	ans.VolumeMM3, ans.AreaMM2 = facts.Measures.Volume, facts.Measures.Area
	if !ans.Closed {
		ans.VolumeMM3 = sections(a, facts.Mesh, facts.Measures.Box.Size()[2])
	}
	ans.SizeMM = facts.Measures.Box.Size()
	return ans, facts
}

// together puts the models into one mesh. Several files are one colour part
// each; one file has those it tells apart itself.
func together(a *Ask, models []*mesh.Model) (*mesh.Mesh, []mesh.ColourPart) {
	if len(models) == 1 {
		return models[0].Mesh, models[0].ColourParts
	}
	var parts []mesh.ColourPart
	meshes := make([]*mesh.Mesh, len(models))
	for i, m := range models {
		if len(m.ColourParts) > 1 {
			m.Warnings = append(m.Warnings, say.Of("%s tells colours apart itself; given together with other files it is one colour part.", a.Sources[i].Name))
		}
		c := *m.Mesh
		c.Colour = make([]uint8, len(c.F))
		for k := range c.Colour {
			c.Colour[k] = uint8(i)
		}
		meshes[i] = &c
		parts = append(parts, mesh.ColourPart{Name: strings.TrimSuffix(a.Sources[i].Name, extension(a.Sources[i].Name))})
	}
	return mesh.Merge(meshes...), parts
}

func extension(name string) string {
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		return name[i:]
	}
	return ""
}

// place scales m and stands it on z = 0 with the middle of its footprint at
// x = y = 0, in place, as it is ours alone. It returns what it did.
func place(m *mesh.Mesh, box mesh.Box, scale float64) mesh.Affine {
	x, y, z := float64((box.Min[0]+box.Max[0])/2), float64((box.Min[1]+box.Max[1])/2), box.Min[2]
	for i, v := range m.V {
		m.V[i] = mesh.Vec{(v[0] - x) * scale, (v[1] - y) * scale, (v[2] - z) * scale}
	}
	return mesh.Translate(mesh.Vec{-x, -y, -z}).Then(mesh.Scale(mesh.Vec{scale, scale, scale}))
}

// sections is the volume, mm³, of what is closed in the sections of a mesh: all
// that can be said of the volume of an open one.
func sections(a *Ask, m *mesh.Mesh, height float64) float64 {
	const layers = 64
	h := height / layers
	cut, _, err := slice.Cut(m, slice.Options{First: h, Height: h, MaxGap: slice.UsualGap, Workers: a.workers()})
	if err != nil {
		return 0
	}
	sum := 0.0
	for _, l := range cut {
		sum += float64(l.Region.Area() * (l.Top - l.Bottom))
	}
	return sum
}

// distinct drops materials that are there already.
func distinct(ms []printer.Material) []printer.Material {
	var out []printer.Material
	for _, m := range ms {
		seen := false
		for _, o := range out {
			seen = seen || o.ID == m.ID
		}
		if !seen {
			out = append(out, m)
		}
	}
	return out
}

func colourName(c mesh.ColourPart, i int) string {
	if c.Name != "" {
		return c.Name
	}
	return fmt.Sprintf("part %d", i+1)
}

// colourSaid names a colour part within a sentence.
func colourSaid(c Colour, i int) say.Saying {
	if c.Name == colourName(mesh.ColourPart{}, i) {
		return say.Of("part %d", i+1)
	}
	return say.Text(c.Name)
}

func hex(c mesh.ColourPart) string {
	if c.Colour.A == 0 {
		return ""
	}
	return fmt.Sprintf("#%02X%02X%02X", c.Colour.R, c.Colour.G, c.Colour.B)
}

// unreadable makes a finding of a reading error, which is a sentence already.
func unreadable(s Source, several bool, err error) findings.Finding {
	text := say.Sentence(say.Of("%s", err))
	var u *mesh.Unreadable
	if errors.As(err, &u) {
		text = say.Sentence(u.Saying())
	}
	if several {
		text = say.Of("%s: %s", s.Name, text)
	}
	return findings.Finding{ID: "unreadable", Severity: findings.Stop, Message: text.String(), Saying: text}
}

func sentence(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[0])) + string(r[1:])
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
