package findings

import (
	"cmp"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// smallBudget bounds the cells looked at for all pieces together, mostSmall the
// pieces looked at.
const (
	smallBudget = 8000
	mostSmall   = 256
)

// smallParts tests every piece, the smallest first, under 16 CFR 1501.4.
func (l *look) smallParts() {
	order := make([]int, len(l.pieces))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(l.pieces[a].box.Size().Len(), l.pieces[b].box.Size().Len())
	})
	closed := l.closed()
	order = slices.DeleteFunc(order, func(i int) bool {
		p := l.pieces[i]
		size := p.box.Size()
		return max(size[0], size[1], size[2]) > smallChord || closed && len(p.shells) == 1 && p.volume > smallVolume
	})
	order = order[:min(len(order), mostSmall)]
	if len(order) == 0 {
		return
	}
	points := l.points(order)
	budget, unsure := smallBudget, -1
	for _, i := range order {
		answer, spent := SmallPart(points[i], budget)
		budget -= spent
		switch {
		case answer == Fits:
			l.saySmall(l.pieces[i], true)
			return
		case answer == Unsure && unsure < 0:
			unsure = i
		}
	}
	if unsure >= 0 {
		l.saySmall(l.pieces[unsure], false)
	}
}

func (l *look) saySmall(p piece, certain bool) {
	who := say.Of("The part")
	if len(l.pieces) > 1 {
		who = say.Of("One of the separate pieces")
	}
	fits := say.Of("fits into the small parts cylinder of 16 CFR 1501.4")
	sure := 1
	if !certain {
		fits, sure = say.Of("comes so close to fitting into the small parts cylinder of 16 CFR 1501.4 that it should be taken as a small part"), 0
	}
	size := p.box.Size()
	l.say("small-part", Ask, say.Of(
		"%s, %s as printed, %s: a child under 3 can choke on it. Ask whom it is for; do not print it for small children. Broken pieces of larger prints are small parts too, and local rules decide.",
		who, sides(size), fits), []mesh.Vec{p.box.Min.Add(p.box.Max).Scale(0.5)},
		"size_x_mm", size[0], "size_y_mm", size[1], "size_z_mm", size[2], "certain", sure)
}

// points returns the vertices of the pieces numbered in want, by their number.
func (l *look) points(want []int) [][]mesh.Vec {
	wanted := make([]bool, len(l.pieces))
	for _, i := range want {
		wanted[i] = true
	}
	out := make([][]mesh.Vec, len(l.pieces))
	taken := make([]bool, len(l.Mesh.V)) // a vertex is of one shell only
	for k, f := range l.Mesh.F {
		p := l.shells[l.label[k]].piece
		if !wanted[p] {
			continue
		}
		for _, v := range f {
			if !taken[v] {
				taken[v] = true
				out[p] = append(out[p], l.Mesh.V[v])
			}
		}
	}
	return out
}
