package mesh

// Healing. In order: weld, drop what is empty, drop twins, work slivers away,
// stitch seams, make facets agree, fill holes, turn shells outward; again while
// something changes, since one mending can make way for another. What each does
// and where it stops stands in its own file.
//
// Rule over all: the result has no more edges that do not close than the mesh
// given, or the mesh given is returned.

// Repairs says what Heal did and what it left.
type Repairs struct {
	Before, After Report // the mesh as given and as returned

	Welded     int     // vertices made one with another
	WeldedAt   float64 // mm; how far apart they may have been, 0 if they were equal
	Empty      int     // facets without area removed or worked into their neighbours
	Twins      int     // facets removed because others stand on the same vertices
	Split      int     // edges split where the facet beyond had a vertex more
	Turned     int     // facets turned round to agree with their neighbours
	Outward    int     // shells turned right side out
	Holes      int     // holes filled
	HoleFacets int     // facets put in to fill them
	HoleArea   float64 // mm², of those facets
	HolePlaces []Vec   // middles of the largest holes filled, at most places
	OneSided   int     // shells left that have one side only
}

// Changed reports whether anything was done.
func (r Repairs) Changed() bool {
	return r.Welded+r.Empty+r.Twins+r.Split+r.Turned+r.Outward+r.Holes > 0
}

// rounds is how often the whole is gone through at most.
const rounds = 8

// Heal mends what can be mended without guessing, and says what it did. A mesh
// that needs nothing is returned itself; m is never changed. Invalid meshes are
// returned as they are.
func Heal(m *Mesh) (*Mesh, Repairs) {
	var r Repairs
	if Valid(m) != nil {
		return m, r
	}
	var k looked
	r.Before = inspect(m, &k)
	r.After = r.Before
	if r.Before.sound() {
		return m, r
	}
	done := r
	given := tidy(m)
	w := given
	for range rounds {
		next := mendOnce(w, &done, &k)
		if next == w {
			break
		}
		// Vertices numbered afresh, as they would be if Heal were called again.
		w = tidy(next)
	}
	if w == given {
		r.OneSided = done.OneSided
		return m, r
	}
	done.After = inspect(w, &k)
	if done.After.amiss() > r.Before.amiss() {
		return m, r
	}
	return w, done
}

// sound reports whether there is nothing for Heal to do.
func (r Report) sound() bool {
	return r.amiss() == 0 && r.Inverted == 0 && r.Duplicates == 0 && r.Degenerate == 0
}

// amiss counts the edges at which the surface does not close.
func (r Report) amiss() int { return r.OpenEdges + r.Uneven + r.Inconsistent }

// mendOnce goes through all the steps once. It returns w itself if none did anything.
func mendOnce(w *Mesh, r *Repairs, k *looked) *Mesh {
	w = weld(w, r, k)
	var n int
	w, n = dropEmpty(w, k)
	r.Empty += n
	w, n = dropTwins(w, k)
	r.Twins += n
	w, n = mendSlivers(w, k)
	r.Empty += n
	w, n = stitch(w, weldTolerance*w.Bounds().Size().Len(), k)
	r.Split += n
	w, n, oneSided, doubt := agree(w, k)
	r.Turned += n
	r.OneSided = oneSided
	w, filled := fillHoles(w, k)
	if filled.holes > 0 {
		r.Holes += filled.holes
		r.HoleFacets += filled.facets
		r.HoleArea += filled.area
		r.HolePlaces = append(r.HolePlaces, filled.at...)
		r.HolePlaces = r.HolePlaces[:min(places, len(r.HolePlaces))]
	}
	w, n = outward(w, doubt, k)
	r.Outward += n
	return w
}

// weld joins vertices of equal coordinates, then near ones, as far as either
// closes open edges.
func weld(w *Mesh, r *Repairs, k *looked) *Mesh {
	e := k.edges(w)
	if len(e.open) == 0 {
		return w
	}
	used := usedVertices(w)
	if x := exactWeld(w); len(x.V) < used {
		var l looked
		f := l.edges(x)
		if len(f.open) < len(e.open) || len(f.open) == len(e.open) && f.crowded <= e.crowded {
			r.Welded += used - len(x.V)
			w, e, *k = x, f, l
		}
	}
	box := w.Bounds()
	for _, share := range []float64{weldTolerance / 10, weldTolerance} {
		tol := share * box.Size().Len()
		x, n := weldNear(w, *e, box, tol)
		if x != w {
			w, e = x, k.edges(x)
			r.Welded += n
			r.WeldedAt = max(r.WeldedAt, tol)
		}
	}
	return w
}

func usedVertices(m *Mesh) int {
	used := make([]bool, len(m.V))
	n := 0
	for _, f := range m.F {
		for _, v := range f {
			if !used[v] {
				used[v] = true
				n++
			}
		}
	}
	return n
}
