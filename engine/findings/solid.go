package findings

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// left is the inspection of the mesh as it is now, in its frame.
func (l *look) left() mesh.Report {
	r := l.Found
	if l.Repairs.After.Facets > 0 {
		r = l.Repairs.After
	}
	if d := math.Abs(l.Placed.Determinant()); d > 0 {
		r.OpenLength *= math.Cbrt(d)
		r.OpenPlaces = l.placed(r.OpenPlaces)
		r.NonManifoldPlaces = l.placed(r.NonManifoldPlaces)
	}
	return r
}

func (l *look) placed(ps []mesh.Vec) []mesh.Vec {
	out := make([]mesh.Vec, len(ps))
	for i, p := range ps {
		out[i] = l.Placed.Apply(p)
	}
	return out
}

// closed says whether the surface is known to bound something everywhere.
func (l *look) closed() bool { return l.left().Closed() }

// solid says what was wrong with the surface, what healing did, what is left.
func (l *look) solid() {
	l.healed()
	r := l.left()
	if r.Facets == 0 {
		return
	}
	if l.emptyLayers() {
		why := say.Of("its surfaces enclose no space")
		if r.OpenEdges > 0 {
			why = say.Of("its surfaces enclose no space, or have holes too wide to close")
		}
		l.say("nothing-solid", Stop, say.Of("Nothing of this can be printed: %s. Ask for a file that describes a closed solid, with walls that have a thickness.", why),
			r.OpenPlaces, "open_edges", r.OpenEdges, "bodies", r.Bodies)
		return
	}
	if r.Inverted > 0 && l.Measures.Volume < 0 {
		l.say("inside-out", Ask, say.Of("The surface is inside out, so solid and hollow may be swapped. Look at the picture, and ask for a new export if it looks wrong."),
			nil, "inverted_shells", r.Inverted)
	}
	if !r.Closed() {
		var what []say.Saying
		if r.OpenEdges > 0 {
			what = append(what, say.Counted(r.OpenEdges, "%s open edge, %s long together", "%s open edges, %s long together", mm(r.OpenLength)))
		}
		if r.Uneven > 0 {
			what = append(what, say.Counted(r.Uneven, "%s edge where surfaces do not match", "%s edges where surfaces do not match"))
		}
		if r.Inconsistent > 0 {
			what = append(what, say.Counted(r.Inconsistent, "%s edge whose two sides disagree on what is outside", "%s edges whose two sides disagree on what is outside"))
		}
		if n := l.Repairs.OneSided; n > 0 {
			what = append(what, say.Counted(n, "%s surface with one side only", "%s surfaces with one side only"))
		}
		wrong := say.List(what...)
		if len(r.OpenPlaces) > 0 {
			wrong = say.Of("%s, the longest %s", wrong, where(l.box, r.OpenPlaces[0]))
		}
		l.say("not-solid", Ask, say.Of(
			"The surface is not closed (%s). Weight and shape are a best guess where it is open: look at the picture, and ask for a repaired file if something is missing or filled that should not be.",
			wrong), r.OpenPlaces,
			"open_edges", r.OpenEdges, "open_length_mm", r.OpenLength, "uneven_edges", r.Uneven, "inconsistent_edges", r.Inconsistent)
	} else if r.NonManifold > 0 {
		l.say("touching-edges", Note, say.Counted(r.NonManifold,
			"At %s edge more than two facets meet, as where bodies touch along a line. It prints, but breaks easily there.",
			"At %s edges more than two facets meet, as where bodies touch along a line. It prints, but breaks easily there."), r.NonManifoldPlaces, "edges", r.NonManifold)
	}
	if r.Cavities > 0 {
		l.say("cavities", Note, say.Counted(r.Cavities,
			"It holds %s hollow closed all round. What is in there cannot be got out or looked at after printing, supports included.",
			"It holds %s hollows closed all round. What is in there cannot be got out or looked at after printing, supports included."), nil, "cavities", r.Cavities)
	}
}

// emptyLayers says whether layers are known and there is nothing in any.
func (l *look) emptyLayers() bool {
	if len(l.sampled.layers) == 0 {
		return false
	}
	for _, s := range l.sampled.layers {
		if !s.Region.Empty() {
			return false
		}
	}
	return true
}

// healed says what healing did. Vertices made one without moving, as every
// STL needs, are not worth a word.
func (l *look) healed() {
	r := l.Repairs
	area, scale := r.HoleArea, 1.0
	if d := math.Abs(l.Placed.Determinant()); d > 0 {
		scale = math.Cbrt(d)
		area *= scale * scale
	}
	var done []say.Saying
	did := func(n int, one, many say.Form, with ...any) {
		if n > 0 {
			done = append(done, say.Counted(n, one, many, with...))
		}
	}
	if r.WeldedAt > 0 {
		did(r.Welded, "%s vertex up to %s apart joined", "%s vertices up to %s apart joined", mm(r.WeldedAt*scale))
	}
	did(r.Empty, "%s facet without area removed", "%s facets without area removed")
	did(r.Twins, "%s facet lying on others removed", "%s facets lying on others removed")
	did(r.Split, "%s edge split where a corner met its middle", "%s edges split where a corner met its middle")
	did(r.Turned, "%s facet turned to face outward", "%s facets turned to face outward")
	did(r.Outward, "%s inside-out shell turned right side out", "%s inside-out shells turned right side out")
	did(r.Holes, "%s hole filled, %s in all", "%s holes filled, %s in all", mm2(area))
	if len(done) == 0 {
		return
	}
	places := r.HolePlaces
	if scale != 1 || l.Placed.Determinant() != 0 {
		places = l.placed(places)
	}
	l.say("healed", Note, say.Of("The surface was repaired: %s.", say.List(done...)), places,
		"joined_vertices", r.Welded, "empty_facets", r.Empty, "doubled_facets", r.Twins, "split_edges", r.Split,
		"turned_facets", r.Turned, "turned_shells", r.Outward, "holes", r.Holes, "hole_area_mm2", area)
}
