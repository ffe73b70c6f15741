package work

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strings"

	"platebook/desk"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// wayIDs are those a request can have, in the order people read them.
var wayIDs = []string{"sensible", "cheaper", "finer", "largest", "soluble"}

// part is one part of the plan, and what was found for it.
type part struct {
	plan  desk.PartPlan
	name  string
	ask   quote.Ask
	found *quote.Ways
}

// offer is the part's offer of an id, or its sensible one.
func (p *part) offer(id string) (o *quote.Offer, own bool) {
	for i := range p.found.Offers {
		switch p.found.Offers[i].ID {
		case id:
			return &p.found.Offers[i], true
		case "sensible":
			o = &p.found.Offers[i]
		}
	}
	return o, false
}

// ways seeks ways for each part, and puts those of the same id together.
func (c *computing) ways() (r result, err error) {
	defer func() { err = errors.Join(err, c.close()) }()
	parts, err := c.parts()
	if err != nil {
		return r, err
	}
	b := &r.Basis
	b.Tariff, b.Rules = c.Settings.Versions[desk.TariffSetting], c.Settings.Versions[desk.RulesSetting]
	told := func(p *part, text string) string {
		if len(parts) == 1 {
			return text
		}
		return p.name + ": " + text
	}
	for _, p := range parts {
		wish := quote.Wish{Largest: p.plan.Largest, AsSent: p.plan.AsSent, Ways: c.book.Ways}
		for _, m := range c.book.Printers {
			if slices.Contains(c.Models, m.ID) {
				wish.Elsewhere = append(wish.Elsewhere, m)
			}
		}
		if p.found, err = quote.FindWays(p.ask, wish); err != nil {
			// The ask cannot be answered as it is: a mistake in the plan or the
			// settings, which staff mend.
			b.Trouble = told(p, sentence(err.Error()))
			return r, nil
		}
		for _, f := range p.found.Findings {
			f.Message = told(p, f.Message)
			if len(parts) > 1 {
				f.Saying = say.Of("%s: %s", p.name, f.Saying)
			}
			b.Finding = append(b.Finding, f)
		}
		for _, w := range p.found.Without {
			b.Without = append(b.Without, told(p, w))
		}
		for _, i := range p.found.Instead {
			b.Instead = append(b.Instead, told(p, i))
		}
		if o, _ := p.offer("sensible"); o == nil && b.Trouble == "" {
			b.Trouble = told(p, "no way to print it as planned was found.")
			if len(parts) == 1 {
				b.Trouble = "No way to print it as planned was found."
			}
		}
	}
	if b.Trouble != "" {
		return r, nil
	}
	return r, c.combine(parts, &r)
}

// parts makes an ask for each part of the plan.
func (c *computing) parts() ([]*part, error) {
	if len(c.Plan.Parts) == 0 {
		return nil, errors.New("the plan has no parts")
	}
	base, err := c.base(c.Plan)
	if err != nil {
		return nil, err
	}
	var out []*part
	for _, pp := range c.Plan.Parts {
		p := &part{plan: pp, ask: base}
		for _, id := range append([]desk.ID{pp.File}, pp.Colours...) {
			s, err := c.source(id)
			if err != nil {
				return nil, err
			}
			p.ask.Sources = append(p.ask.Sources, s)
		}
		p.name = p.ask.Sources[0].Name
		p.ask.Unit = mesh.Unit(pp.Unit)
		p.ask.Copies = max(pp.Copies, 1)
		switch {
		case pp.LongestMM > 0:
			// As large as fits a cube of that side has that longest side.
			p.ask.Target = mesh.Vec{pp.LongestMM, pp.LongestMM, pp.LongestMM}
		case pp.TargetMM != (mesh.Vec{}):
			p.ask.Target = pp.TargetMM
		default:
			p.ask.Scale = pp.Scale
		}
		out = append(out, p)
	}
	return out, nil
}

// combine makes the ways of the request of those of its parts.
func (c *computing) combine(parts []*part, r *result) error {
	var sensible *made
	var all []*made
	for _, id := range wayIDs {
		m := &made{id: id, parts: parts}
		any := false
		for _, p := range parts {
			o, own := p.offer(id)
			m.offers = append(m.offers, *o)
			any = any || own
		}
		if !any {
			continue
		}
		c.say("laying out the plates: " + id)
		if err := c.price(m); err != nil {
			return err
		}
		if sensible == nil {
			sensible = m
		}
		if id == "cheaper" && m.way.Price.Total.Cmp(sensible.way.Price.Total) >= 0 {
			r.Basis.Without = append(r.Basis.Without, "Nothing cheaper: all parts together, rounded, it costs as much.")
			continue
		}
		m.way.Saying = m.says(sensible)
		m.way.Says = m.way.Saying.String()
		all = append(all, m)
	}
	c.say("drawing the ways")
	for _, m := range all {
		if err := c.drawWay(m); err != nil {
			return err
		}
		r.Ways = append(r.Ways, m.way)
	}
	var err error
	r.Basis.Picture, err = c.drawSideBySide(all)
	return err
}

// made is a way being put together.
type made struct {
	id     string
	parts  []*part
	offers []quote.Offer // by part
	plates []quote.Plate // where several prints share a plate; nil is one print a plate
	way    desk.Way
}

// alone says whether the way is one print of one part, as the engine offered it.
func (m *made) alone() bool { return len(m.parts) == 1 && m.parts[0].ask.Copies == 1 }

// price settles plates, grams, seconds and price of all parts together.
func (c *computing) price(m *made) error {
	w := desk.Way{ID: m.id, Printer: m.parts[0].ask.Printer.ID, Grams: map[string]float64{}}
	copies := 0
	for i, p := range m.parts {
		o := &m.offers[i]
		copies += p.ask.Copies
		w.Parts = append(w.Parts, desk.PartWay{
			File: p.plan.File, SizeMM: o.SizeMM, Scale: o.Scale, Pose: o.Pose, SpinDeg: o.SpinDeg, Copies: p.ask.Copies, Settings: o.Settings,
		})
	}
	var err error
	if w.Plates, err = c.plates(m, copies); err != nil {
		return err
	}
	for _, p := range w.Plates {
		w.Seconds += p.Seconds
		for _, id := range slices.Sorted(maps.Keys(p.Grams)) {
			w.Grams[id] += p.Grams[id]
		}
	}
	order := tariff.Order{Prints: len(w.Plates), Copies: copies, Seconds: w.Seconds}
	for _, id := range slices.Sorted(maps.Keys(w.Grams)) {
		w.Grams[id] = microgram(w.Grams[id])
		mat, err := c.book.Material(id)
		if err != nil {
			return err
		}
		order.Items = append(order.Items, tariff.Item{Material: id, Name: mat.Name, Grams: w.Grams[id]})
	}
	w.Material = m.materials(w.Grams)
	if w.Price, err = c.Settings.Tariff.Price(order); err != nil {
		return err
	}
	w.PriceSayings = c.Settings.Tariff.Sayings()
	w.PriceSaid = say.Strings(w.PriceSayings)
	m.way = w
	return nil
}

// microgram rounds as the engine does before it prices: a sum's last digit must
// not push a whole gram over its step.
func microgram(g float64) float64 { return math.Round(g*1e6) / 1e6 }

// materials lists those used, in the order of the plan, supports' last.
func (m *made) materials(grams map[string]float64) []string {
	var ids []string
	for _, mat := range append(slices.Clone(m.parts[0].ask.Materials), m.parts[0].ask.SupportMaterial) {
		if _, used := grams[mat.ID]; used && !slices.Contains(ids, mat.ID) {
			ids = append(ids, mat.ID)
		}
	}
	return ids
}

// plates lays copies out together where there are several, as long as all of
// them find a place; otherwise every copy is a print of its own.
func (c *computing) plates(m *made, copies int) ([]desk.PlateWay, error) {
	if copies > 1 {
		var asks []quote.Ask
		var found []*quote.Ways
		for _, p := range m.parts {
			asks, found = append(asks, p.ask), append(found, p.found)
		}
		laid, err := quote.LayOut(asks, found, m.offers)
		if err != nil {
			return nil, err
		}
		if len(laid.Unplaced) == 0 && c.within(laid.Plates) {
			m.plates = laid.Plates
			var out []desk.PlateWay
			for _, pl := range laid.Plates {
				one := desk.PlateWay{Seconds: pl.TimeS, Grams: pl.MassG, Copies: map[desk.ID]int{}}
				for _, at := range pl.Parts {
					one.Copies[m.parts[at.Request].plan.File]++
				}
				out = append(out, one)
			}
			return out, nil
		}
	}
	var out []desk.PlateWay
	for i, p := range m.parts {
		f := m.offers[i].Figures
		for range p.ask.Copies {
			one := desk.PlateWay{Seconds: f.PrintTimeS, Grams: map[string]float64{}, Copies: map[desk.ID]int{p.plan.File: 1}}
			for id, g := range f.MassG {
				one.Grams[id] = microgram(g / float64(f.Copies))
			}
			out = append(out, one)
		}
	}
	return out, nil
}

// within says whether every plate keeps to the longest print.
func (c *computing) within(plates []quote.Plate) bool {
	longest := c.Settings.Rules.Longest.Seconds()
	for _, p := range plates {
		if longest > 0 && p.TimeS > longest {
			return false
		}
	}
	return true
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return upper(s)
}
