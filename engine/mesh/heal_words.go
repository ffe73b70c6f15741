package mesh

import "platebook/engine/say"

// Sentences says in words what was done, then what was left. Nothing done and
// nothing left says nothing. Lengths are in mm, places in the file's own frame.
func (r Repairs) Sentences() []string { return say.Strings(r.Sayings()) }

// Sayings are the sentences, to be said in any language.
func (r Repairs) Sayings() []say.Saying {
	return append(r.done(), r.left()...)
}

func (r Repairs) done() (out []say.Saying) {
	did := func(n int, one, many say.Form, with ...any) { out = append(out, say.Counted(n, one, many, with...)) }
	switch {
	case r.Welded > 0 && r.WeldedAt > 0:
		did(r.Welded, "Joined %s vertex, none more than %s apart.", "Joined %s vertices, none more than %s apart.", mm(max(r.WeldedAt, least)))
	case r.Welded > 0:
		did(r.Welded, "Joined %s vertex lying in the same place.", "Joined %s vertices lying in the same place.")
	}
	if r.Empty > 0 {
		did(r.Empty, "Removed %s facet without area.", "Removed %s facets without area.")
	}
	if r.Twins > 0 {
		did(r.Twins, "Removed %s facet lying exactly on another.", "Removed %s facets lying exactly on another.")
	}
	if r.Split > 0 {
		did(r.Split, "Split %s edge where the facet beyond had one more corner.", "Split %s edges where the facet beyond had one more corner.")
	}
	if r.Turned > 0 {
		did(r.Turned, "Turned %s facet to face the same way as the neighbours.", "Turned %s facets to face the same way as the neighbours.")
	}
	if r.Outward > 0 {
		did(r.Outward, "Turned %s shell right side out.", "Turned %s shells right side out.")
	}
	if r.Holes > 0 {
		did(r.Holes, "Filled %s hole, %s mm² in all%s.", "Filled %s holes, %s mm² in all%s.", figure(r.HoleArea), at(r.HolePlaces))
	}
	return out
}

func (r Repairs) left() (out []say.Saying) {
	left := func(s say.Saying) { out = append(out, s) }
	a := r.After
	switch {
	case r.Before.Facets == 0:
	case a.Facets == 0 && r.Before.Degenerate == r.Before.Facets:
		left(say.Of("Nothing is left: all facets were without area."))
	case a.Facets == 0:
		left(say.Of("Nothing is left: every facet was without area or lay flat on another."))
	case a.Degenerate == a.Facets:
		left(say.Of("Nothing is left to print: all facets are without area."))
	case a.Flat > 0 && a.Bodies+a.OpenShells == 0:
		left(say.Of("Nothing is left to print: the surface lies flat and encloses no space."))
	case a.Flat > 0:
		left(say.Counted(a.Flat, "Left: %s flat shell, which encloses no space.", "Left: %s flat shells, which enclose no space."))
	}
	if a.OpenEdges > 0 {
		var holes say.Saying
		if a.Loops > 0 {
			holes = say.Counted(a.Loops, " around %s gap", " around %s gaps")
		}
		left(say.Counted(a.OpenEdges, "Left open: %s edge%s, %s in all%s. To close them would be a guess.",
			"Left open: %s edges%s, %s in all%s. To close them would be a guess.", holes, mm(a.OpenLength), at(a.OpenPlaces)))
	}
	if a.NonManifold > 0 {
		left(say.Counted(a.NonManifold, "Left: %s edge where more than two facets meet%s.", "Left: %s edges where more than two facets meet%s.", at(a.NonManifoldPlaces)))
	}
	if r.OneSided > 0 {
		left(say.Counted(r.OneSided, "Left: %s shell with one side only, like a Möbius strip, which bounds no solid.",
			"Left: %s shells with one side only, like a Möbius strip, which bounds no solid."))
	} else if a.Inconsistent > 0 {
		left(say.Counted(a.Inconsistent, "Left: %s edge whose two facets disagree which side is out.", "Left: %s edges whose two facets disagree which side is out."))
	}
	return out
}

// at names the first of some places.
func at(places []Vec) say.Saying {
	switch len(places) {
	case 0:
		return say.Saying{}
	case 1:
		return say.Of(", at %s", place(places[0]))
	}
	return say.Of(", the largest at %s", place(places[0]))
}
