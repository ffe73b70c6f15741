package findings

import (
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// Islands that another shell carries.
//
// A bar laid across a post as a body of its own has its lowest vertices far
// from the post: dropping a line from one of them finds nothing below. So where
// another shell comes near an island, the sections just above and just below
// its lowest point are compared: the island is carried if the part of the upper
// one it belongs to overlaps the lower one, whoever made that. With layers at
// hand they are the sections; otherwise two planes are cut, which on a large
// mesh costs time, so only the largest islands are looked at and the others are
// left out: nothing is said that is not known.

// carriedByOthers drops islands that another shell carries, or may carry.
func (l *look) carriedByOthers(isl []island) []island {
	if len(l.shells) == 1 {
		return isl
	}
	looks := min(max(2_000_000/len(l.Mesh.F), 2), 24)
	if l.Layers != nil {
		looks = 200
	}
	return slices.DeleteFunc(isl, func(i island) bool {
		own := l.label[i.facet]
		reach := i.box
		reach.Min[2] -= l.layer()
		if !slices.ContainsFunc(l.others(own), func(b mesh.Box) bool { return near(b, reach, hair) }) {
			return false
		}
		if looks--; looks < 0 {
			return true
		}
		above, below, ok := l.around(i.at[2])
		return !ok || !region.Intersect(islandAt(above, i.at), below).Empty()
	})
}

// others are the boxes of all shells but one; of many shells, that of them all.
func (l *look) others(own int32) []mesh.Box {
	if len(l.shells) > mostShells {
		return []mesh.Box{l.box}
	}
	var out []mesh.Box
	for i, s := range l.shells {
		if int32(i) != own {
			out = append(out, s.box)
		}
	}
	return out
}

// around returns the sections just above and just below a height, and whether
// there are two.
func (l *look) around(z float64) (above, below region.Region, ok bool) {
	if l.Layers != nil {
		k := slices.IndexFunc(l.Layers, func(a slice.Layer) bool { return (a.Bottom+a.Top)/2 > z })
		if k < 1 {
			return nil, nil, false
		}
		return l.Layers[k].Region, l.Layers[k-1].Region, true
	}
	half := float64(l.layer() / 2)
	above, _ = slice.Plane(l.Mesh, z+half)
	below, _ = slice.Plane(l.Mesh, math.Max(z-half, half))
	return above, below, true
}

// islandAt returns the connected part of r at or nearest to p.
func islandAt(r region.Region, p mesh.Vec) region.Region {
	best, least := region.Region(nil), math.Inf(1)
	at := region.Point{X: region.Micron(math.Round(p[0] * 1000)), Y: region.Micron(math.Round(p[1] * 1000))}
	for _, i := range r.Islands() {
		if i.Contains(at) != region.Outside {
			return i
		}
		for _, ring := range i {
			if d, _ := inside(ring, float64(at.X), float64(at.Y)); math.Abs(d) < least {
				best, least = i, math.Abs(d)
			}
		}
	}
	return best
}
