package picture

import (
	"cmp"
	"fmt"
	"slices"
)

// tag is a number at the side of the picture and the places it points at.
type tag struct {
	number   int
	severity string
	label    string
	at       []place
	left     bool
	x, y     float64 // its middle
	unseen   bool    // in every view
}

// place is a mark in the picture.
type place struct {
	x, y   float64
	hidden bool // behind something
}

// gather puts marks of one number and severity together, in the order given.
func gather(marks []Mark) []*tag {
	var tags []*tag
	for _, m := range marks {
		i := slices.IndexFunc(tags, func(t *tag) bool { return t.number == m.Number && t.severity == m.Severity })
		if i < 0 {
			i = len(tags)
			tags = append(tags, &tag{number: m.Number, severity: m.Severity})
		}
		if tags[i].label == "" {
			tags[i].label = clean(m.Label)
		}
	}
	return tags
}

// arrange gives every tag its place at a side, from top to bottom, none over
// another, each as near to the height of what it points at as the others let
// it. It returns the tags there was room for.
//
// The idea: tags are shared out by where they point, left half left, right
// half right; down a side they keep the order of their heights, so leaders of
// a side do not cross; then one pass down and one up moves them apart.
func arrange(tags []*tag, left, right, top, bottom, pitch float64) []*tag {
	fits := max(int((bottom-top)/pitch), 0)
	if len(tags) > 2*fits {
		tags = tags[:2*fits]
	}
	aim := func(t *tag) (x, y float64) {
		for _, p := range t.at {
			x, y = x+p.x, y+p.y
		}
		n := float64(max(len(t.at), 1))
		return x / n, y / n
	}
	across := slices.Clone(tags)
	slices.SortStableFunc(across, func(a, b *tag) int {
		ax, _ := aim(a)
		bx, _ := aim(b)
		return cmp.Compare(ax, bx)
	})
	// Those left of the middle go left.
	n := 0
	for n < len(across) {
		if x, _ := aim(across[n]); x > (left+right)/2 {
			break
		}
		n++
	}
	// Neither side takes more than two thirds, nor more than it has room for.
	third := len(across) / 3
	n = min(max(n, third), len(across)-third)
	n = min(max(n, len(across)-fits), fits)
	for i, side := range [][]*tag{across[:n], across[n:]} {
		slices.SortStableFunc(side, func(a, b *tag) int {
			_, ay := aim(a)
			_, by := aim(b)
			return cmp.Compare(ay, by)
		})
		for k, t := range side {
			t.left = i == 0
			t.x = right
			if t.left {
				t.x = left
			}
			_, t.y = aim(t)
			t.y = max(t.y, top+pitch/2)
			if k > 0 {
				t.y = max(t.y, side[k-1].y+pitch)
			}
		}
		limit := bottom - pitch/2
		for k := len(side) - 1; k >= 0; k-- {
			side[k].y = min(side[k].y, limit)
			limit = side[k].y - pitch
		}
	}
	return tags
}

// draw puts the tag's leaders, dots and number on the picture.
func (t *tag) draw(p *pen) {
	c := accent(t.severity)
	r := tagRadius(p.size)
	thin := max(p.size/12, 1)
	stub := r + p.size*0.7
	if !t.left {
		stub = -stub
	}
	for _, a := range t.at {
		dash := 0.0
		if a.hidden {
			dash = p.size / 3.2
		}
		p.line(t.x, t.y, t.x+stub, t.y, thin*3, 0, sheet, 0.75)
		p.line(t.x+stub, t.y, a.x, a.y, thin*3, 0, sheet, 0.75)
		p.line(t.x, t.y, t.x+stub, t.y, thin, 0, c, 1)
		p.line(t.x+stub, t.y, a.x, a.y, thin, dash, c, 1)
	}
	for _, a := range t.at {
		dot := max(p.size*0.27, 2.5)
		p.disc(a.x, a.y, dot+thin*1.2, sheet)
		p.disc(a.x, a.y, dot, c)
		if a.hidden {
			p.disc(a.x, a.y, dot-thin*1.3, sheet)
		}
	}
	t.badge(p, t.x, t.y)
}

func tagRadius(size float64) float64 { return size * 0.72 }

// badge draws the number in the shape of its severity: a square for stop, a
// disc for ask, a ring for note.
func (t *tag) badge(p *pen, x, y float64) {
	r := tagRadius(p.size)
	c, number := accent(t.severity), sheet
	line := max(p.size/9, 1.2)
	switch t.severity {
	case "stop":
		p.slab(x, y, r*1.02+line, r*0.94+line, line*2, sheet)
		p.slab(x, y, r*1.02, r*0.94, line*1.4, c)
	case "ask":
		p.disc(x, y, r+line, sheet)
		p.disc(x, y, r, c)
	default:
		p.disc(x, y, r, c)
		p.disc(x, y, r-line, sheet)
		number = c
	}
	s := fmt.Sprint(t.number)
	p.text(p.small, s, x-width(p.small, s)/2, y+p.size*0.31, number)
}
