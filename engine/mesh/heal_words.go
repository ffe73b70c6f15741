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
		say("Joined %s, none more than %.2g mm apart.", count(r.Welded, "vertex", "vertices"), r.WeldedAt)
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
		say("Filled %s, %.3g mm² in all%s.", count(r.Holes, "hole", "holes"), r.HoleArea, at(r.HolePlaces))
	}
	return out
}

func (r Repairs) left() (out []string) {
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	a := r.After
	if a.OpenEdges > 0 {
		holes := ""
		if a.Loops > 0 {
			holes = " around " + count(a.Loops, "gap", "gaps")
		}
		say("Left open: %s%s, %.3g mm in all%s. To close them would be a guess.",
			count(a.OpenEdges, "edge", "edges"), holes, a.OpenLength, at(a.OpenPlaces))
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
	return fmt.Sprintf("%d %s", n, many)
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

func place(v Vec) string { return fmt.Sprintf("(%.4g, %.4g, %.4g)", v[0], v[1], v[2]) }
