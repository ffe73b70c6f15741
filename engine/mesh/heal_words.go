package mesh

import "fmt"

// Sentences says in words what was done, then what was left. Nothing done and
// nothing left says nothing. Lengths are in mm, places in the file's own frame.
func (r Repairs) Sentences() []string {
	return append(r.done(), r.left()...)
}

func (r Repairs) done() (out []string) {
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	switch {
	case r.Welded > 0 && r.WeldedAt > 0:
		say("Joined %s, none more than %s apart.", count(r.Welded, "vertex", "vertices"), mm(max(r.WeldedAt, least)))
	case r.Welded > 0:
		say("Joined %s lying in the same place.", count(r.Welded, "vertex", "vertices"))
	}
	if r.Empty > 0 {
		say("Removed %s without area.", count(r.Empty, "facet", "facets"))
	}
	if r.Twins > 0 {
		say("Removed %s lying exactly on another.", count(r.Twins, "facet", "facets"))
	}
	if r.Split > 0 {
		say("Split %s where the facet beyond had one more corner.", count(r.Split, "edge", "edges"))
	}
	if r.Turned > 0 {
		say("Turned %s to face the same way as the neighbours.", count(r.Turned, "facet", "facets"))
	}
	if r.Outward > 0 {
		say("Turned %s right side out.", count(r.Outward, "shell", "shells"))
	}
	if r.Holes > 0 {
		say("Filled %s, %s mm² in all%s.", count(r.Holes, "hole", "holes"), figure(r.HoleArea), at(r.HolePlaces))
	}
	return out
}

func (r Repairs) left() (out []string) {
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	a := r.After
	switch {
	case r.Before.Facets == 0:
	case a.Facets == 0 && r.Before.Degenerate == r.Before.Facets:
		say("Nothing is left: all facets were without area.")
	case a.Facets == 0:
		say("Nothing is left: every facet was without area or lay flat on another.")
	case a.Degenerate == a.Facets:
		say("Nothing is left to print: all facets are without area.")
	case a.Flat > 0 && a.Bodies+a.OpenShells == 0:
		say("Nothing is left to print: the surface lies flat and encloses no space.")
	case a.Flat > 0:
		say("Left: %s no space.", count(a.Flat, "flat shell, which encloses", "flat shells, which enclose"))
	}
	if a.OpenEdges > 0 {
		holes := ""
		if a.Loops > 0 {
			holes = " around " + count(a.Loops, "gap", "gaps")
		}
		say("Left open: %s%s, %s in all%s. To close them would be a guess.",
			count(a.OpenEdges, "edge", "edges"), holes, mm(a.OpenLength), at(a.OpenPlaces))
	}
	if a.NonManifold > 0 {
		say("Left: %s where more than two facets meet%s.", count(a.NonManifold, "edge", "edges"), at(a.NonManifoldPlaces))
	}
	if r.OneSided > 0 {
		say("Left: %s with one side only, like a Möbius strip, which bounds no solid.", count(r.OneSided, "shell", "shells"))
	} else if a.Inconsistent > 0 {
		say("Left: %s whose two facets disagree which side is out.", count(a.Inconsistent, "edge", "edges"))
	}
	return out
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return whole(n) + " " + many
}

// at names the first of some places.
func at(places []Vec) string {
	switch len(places) {
	case 0:
		return ""
	case 1:
		return ", at " + place(places[0])
	}
	return ", the largest at " + place(places[0])
}
