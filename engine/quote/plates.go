package quote

import (
	"errors"
	"fmt"
	"math"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/pack"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/tariff"
)

// Plates are the prints that several parts, of one request or of many, become
// when they share platforms.
type Plates struct {
	Plates   []Plate  `json:"plates"`
	Requests []Share  `json:"requests"` // in the order asked
	Unplaced []string `json:"unplaced"` // sentences: what no plate holds, and why
}

// Plate is one print.
type Plate struct {
	Parts    []Placed           `json:"parts"`
	Layers   int                `json:"layers"`
	TimeS    float64            `json:"time_s"`
	MassG    map[string]float64 `json:"mass_g"`
	Solid    *mesh.Mesh         `json:"-"` // all parts where they stand, the platform's middle at x = y = 0
	requests []int
}

// Placed is where a part stands: the middle of its box from the middle of the
// platform, and how far it is turned about the vertical.
type Placed struct {
	Request int     `json:"request"` // index into Requests
	File    string  `json:"file"`
	XMM     float64 `json:"x_mm"`
	YMM     float64 `json:"y_mm"`
	TurnDeg float64 `json:"turn_deg"`
}

// Share is what one request takes of the plates, and pays.
type Share struct {
	File   string             `json:"file"`
	Copies int                `json:"copies"`  // placed
	Prints int                `json:"prints"`  // plates it stands on
	MassG  map[string]float64 `json:"mass_g"`  // its parts, its supports, and its part of base and purge
	TimeS  float64            `json:"time_s"`  // its part of the plates' time, by its time alone
	Price  *tariff.Price      `json:"price"`   // nil if nothing was placed
	Answer *Answer            `json:"finding"` // of the check
}

// Gap kept between parts on a plate, mm: room for a scraper (CUSTOM).
const plateGap = 4

// turnSteps is in how many steps a part may be spun on a plate.
const turnSteps = 8

// FindPlates lays the copies of every ask out on as few plates as it finds.
// Every ask must be for the same printer; parts whose way or materials differ
// come onto plates of their own. What a check stops is not placed.
func FindPlates(asks []Ask) (*Plates, error) {
	if len(asks) == 0 {
		return nil, errors.New("there is nothing to lay out")
	}
	out := &Plates{Unplaced: []string{}, Plates: []Plate{}}
	var pieces []*piece
	for i := range asks {
		a := &asks[i]
		if err := a.check(); err != nil {
			return nil, err
		}
		if a.Printer.ID != asks[0].Printer.ID {
			return nil, fmt.Errorf("one plate is laid out for one printer: %s and %s differ", asks[0].Printer.Name, a.Printer.Name)
		}
		p, err := newPiece(a, i)
		if err != nil {
			return nil, err
		}
		out.Requests = append(out.Requests, Share{File: a.Sources[0].Name, MassG: map[string]float64{}, Answer: p.answer})
		if p.figures == nil {
			out.Unplaced = append(out.Unplaced, a.Sources[0].Name+": "+p.answer.stops())
			continue
		}
		pieces = append(pieces, p)
	}
	return out, finish(asks, pieces, out)
}

// LayOut is FindPlates for offers, each as it stands: asks are those they were
// found for, in the same order, and found what was found for each.
func LayOut(asks []Ask, found []*Ways, offers []Offer) (*Plates, error) {
	if len(asks) == 0 || len(asks) != len(offers) || len(asks) != len(found) {
		return nil, errors.New("there must be an offer for each ask, and at least one")
	}
	out := &Plates{Unplaced: []string{}, Plates: []Plate{}}
	var pieces []*piece
	for i := range asks {
		a := asks[i]
		a.Way, a.Turn, a.Target, a.Scale = offers[i].Way, false, mesh.Vec{}, 0
		if err := a.check(); err != nil {
			return nil, err
		}
		if a.Printer.ID != asks[0].Printer.ID {
			return nil, fmt.Errorf("one plate is laid out for one printer: %s and %s differ", asks[0].Printer.Name, a.Printer.Name)
		}
		ans := *found[i].Answer
		ans.Solid = offers[i].Solid
		p := &piece{ask: &a, request: i, answer: &ans}
		single := a
		single.Copies = 1
		l, parts, err := single.stand(ans.Solid, len(ans.ColourParts), a.Way)
		if err != nil {
			return nil, err
		}
		f, err := single.figures(l, a.Way)
		if err != nil {
			return nil, err
		}
		out.Requests = append(out.Requests, Share{File: a.Sources[0].Name, MassG: map[string]float64{}, Answer: &ans})
		if f == nil {
			out.Unplaced = append(out.Unplaced, a.Sources[0].Name+": nothing of it holds a bead.")
			continue
		}
		p.laid(l, parts, f)
		pieces = append(pieces, p)
	}
	return out, finish(asks, pieces, out)
}

// finish lays the pieces out and shares what the plates take.
func finish(asks []Ask, pieces []*piece, out *Plates) error {
	if len(pieces) == 0 {
		return nil
	}
	if err := layOut(pieces, out); err != nil {
		return err
	}
	return settle(asks, pieces, out)
}

// stops is the first finding that stops the print, in words.
func (ans *Answer) stops() string {
	for _, f := range ans.Findings {
		if f.Severity == findings.Stop {
			return f.Message
		}
	}
	return "It cannot be printed as it is."
}

// piece is one part and what it takes printed alone.
type piece struct {
	ask     *Ask
	request int
	answer  *Answer
	figures *Figures
	outline region.Region
	height  float64
	// own is the mass of one copy by tool without base and purge, g.
	own []float64
}

func newPiece(a *Ask, request int) (*piece, error) {
	single := *a
	single.Copies = 1
	ans, facts := read(&single)
	p := &piece{ask: a, request: request, answer: ans}
	if facts == nil {
		return p, nil
	}
	l, parts, err := single.stand(facts.Mesh, len(ans.ColourParts), single.Way)
	if err != nil {
		return nil, err
	}
	f, err := single.figures(l, single.Way)
	if err != nil {
		return nil, err
	}
	single.tell(ans, facts, l, f)
	ans.conclude(findings.Find(*facts))
	if ans.Printable && f != nil {
		p.laid(l, parts, f)
	}
	return p, nil
}

// stand lays m as it stands, and keeps what was cut.
func (a *Ask) stand(m *mesh.Mesh, colours int, way printer.Way) (*laid, []plan.Part, error) {
	tools, support := a.tools(colours, way.Supports)
	parts, report, err := a.cut(m, way, len(tools))
	if err != nil {
		return nil, nil, err
	}
	l, err := a.plan(parts, way, tools, support)
	if err != nil {
		return nil, nil, err
	}
	l.cut = report
	return l, parts, nil
}

// laid notes what one copy takes and covers.
func (p *piece) laid(l *laid, parts []plan.Part, f *Figures) {
	p.figures, p.height = f, f.HeightMM
	for i, m := range l.tools {
		v := l.plan.Volume[i]
		p.own = append(p.own, m.Grams(l.plan.Deposited(i)-v[plan.Base]-v[plan.Purge]))
	}
	p.outline = silhouette(parts)
	if way := p.ask.Way; way.Base == printer.Brim || way.Base == printer.Raft {
		p.outline = p.outline.Offset(region.Micron(1000*baseMargin(way)), region.Round, 100)
	}
}

// silhouette is the shadow of all layers, a little rounded outward.
func silhouette(parts []plan.Part) region.Region {
	var all []region.Region
	for _, p := range parts {
		for _, l := range p.Layers {
			if len(l.Region) > 0 {
				all = append(all, l.Region.Simplify(slack))
			}
		}
	}
	for len(all) > 1 {
		half := all[:0]
		for i := 0; i < len(all); i += 2 {
			if i+1 == len(all) {
				half = append(half, all[i])
			} else {
				half = append(half, region.Union(all[i], all[i+1]).Simplify(slack))
			}
		}
		all = half
	}
	if len(all) == 0 {
		return nil
	}
	// What every Simplify took off at most is put back all round.
	return all[0].Offset(16*slack, region.Round, slack)
}

// slack is how far an outline may be simplified, µm: far below plateGap.
const slack = 20

// layOut packs, plans each plate whole, and packs again with less time a plate
// if a plate turns out to take too long.
func layOut(pieces []*piece, out *Plates) error {
	a := pieces[0].ask
	var items []pack.Item
	var of []int
	for i, p := range pieces {
		for k := range p.ask.copies() {
			items = append(items, pack.Item{
				ID: fmt.Sprintf("%04d-%04d", i, k), Outline: p.outline, Group: p.group(),
				Height: region.Micron(math.Ceil(1000 * p.height)), Turns: turnSteps,
			})
			of = append(of, i)
		}
	}
	longest := a.LongestPrint
	for attempt := 0; ; attempt++ {
		o := pack.Options{
			Platform: pack.Platform{
				Width: region.Micron(1000 * a.Printer.Volume[0]), Depth: region.Micron(1000 * a.Printer.Volume[1]),
				Height: region.Micron(1000 * a.Printer.Volume[2]), Margin: region.Micron(1000 * baseMargin(a.Way)), Clearance: 1000 * plateGap,
			},
			Longest: longest,
			Time: func(on []int) float64 {
				warm, rest := 0.0, 0.0
				for _, i := range on {
					f := pieces[of[i]].figures
					warm = max(warm, f.TimeParts.WarmUp)
					rest += f.PrintTimeS - f.TimeParts.WarmUp
				}
				return warm + rest
			},
		}
		plates, unplaced := pack.Pack(items, o)
		made, worst, err := planPlates(pieces, of, plates)
		if err != nil {
			return err
		}
		if a.LongestPrint > 0 && worst > a.LongestPrint && attempt < 4 {
			longest *= 0.995 * a.LongestPrint / worst
			continue
		}
		out.Plates = made
		for _, u := range unplaced {
			p := pieces[of[u.Item]]
			out.Unplaced = append(out.Unplaced, fmt.Sprintf("%s: %s", p.ask.Sources[0].Name, sentence(u.Reason)))
		}
		return nil
	}
}

// group is what pieces on one plate must agree in: everything the plan of a
// plate has only one of.
func (p *piece) group() string {
	s := fmt.Sprintf("%v", p.ask.Way)
	tools, _ := p.ask.tools(len(p.answer.ColourParts), p.ask.Way.Supports)
	for _, m := range tools {
		s += " " + m.ID
	}
	return s
}

// planPlates plans every plate as one print, and returns the longest time.
func planPlates(pieces []*piece, of []int, plates []pack.Plate) (made []Plate, worst float64, err error) {
	for _, pl := range plates {
		plate := Plate{MassG: map[string]float64{}}
		first := pieces[of[pl.Placed[0].Item]]
		a := first.ask
		var all []*mesh.Mesh
		for _, at := range pl.Placed {
			p := pieces[of[at.Item]]
			x := float64(at.X)/1000 - float64(a.Printer.Volume[0]/2)
			y := float64(at.Y)/1000 - float64(a.Printer.Volume[1]/2)
			t := mesh.Turn(mesh.Vec{0, 0, 1}, at.Angle).Then(mesh.Translate(mesh.Vec{x, y, 0}))
			all = append(all, mesh.Transform(p.answer.Solid, t))
			plate.Parts = append(plate.Parts, Placed{p.request, p.ask.Sources[0].Name, x, y, at.Angle * 180 / math.Pi})
			plate.requests = append(plate.requests, of[at.Item])
		}
		plate.Solid = mesh.Merge(all...)
		l, err := a.lay(plate.Solid, len(first.answer.ColourParts), a.Way)
		if err != nil {
			return nil, 0, err
		}
		plate.Layers, plate.TimeS = len(l.plan.Layers), l.time.Total
		for i, m := range l.tools {
			plate.MassG[m.ID] += math.Round(m.Grams(l.plan.Deposited(i))*1e6) / 1e6
		}
		worst = max(worst, l.time.Total)
		made = append(made, plate)
	}
	return made, worst, nil
}

// settle shares plates among requests: each pays for the grams of its own parts
// and supports, and for base and purge of a plate by its share of that mass.
func settle(asks []Ask, pieces []*piece, out *Plates) error {
	for _, plate := range out.Plates {
		total, alone := map[string]float64{}, 0.0
		for _, i := range plate.requests {
			p := pieces[i]
			for id, g := range p.ownMass() {
				total[id] += g
			}
			alone += p.figures.PrintTimeS
		}
		seen := map[int]bool{}
		for _, i := range plate.requests {
			p := pieces[i]
			s := &out.Requests[p.request]
			s.Copies++
			if !seen[i] {
				seen[i] = true
				s.Prints++
			}
			for id, g := range p.ownMass() {
				if total[id] > 0 {
					s.MassG[id] += float64(g * plate.MassG[id] / total[id])
				}
			}
			s.TimeS += float64(plate.TimeS * p.figures.PrintTimeS / alone)
		}
	}
	for i := range out.Requests {
		s := &out.Requests[i]
		if s.Copies == 0 {
			continue
		}
		var items []tariff.Item
		for _, m := range distinct(append(asks[i].Materials, asks[i].SupportMaterial)) {
			if g := s.MassG[m.ID]; g > 0 {
				s.MassG[m.ID] = math.Round(g*1e6) / 1e6
				items = append(items, tariff.Item{Material: m.ID, Name: m.Name, Grams: s.MassG[m.ID]})
			}
		}
		price, err := asks[i].Tariff.Price(tariff.Order{Items: items, Prints: s.Prints, Copies: s.Copies, Seconds: s.TimeS})
		if err != nil {
			return err
		}
		s.Price = &price
	}
	return nil
}

// ownMass is the mass of one copy by material, without base and purge.
func (p *piece) ownMass() map[string]float64 {
	out := map[string]float64{}
	tools, _ := p.ask.tools(len(p.answer.ColourParts), p.ask.Way.Supports)
	for i, m := range tools {
		out[m.ID] += p.own[i]
	}
	return out
}
