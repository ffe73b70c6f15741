package findings

import (
	"strings"

	"platebook/engine/say"
)

// labels are the findings in a word or two, by their ids. A test holds the list
// to what is found.
var labels = map[string]say.Form{
	"below-platform":     "Below platform",
	"bridges":            "Bridges",
	"cautions":           "Cautions",
	"cavities":           "Cavities",
	"colour-lost":        "Colour lost",
	"floating":           "Floating",
	"healed":             "Healed",
	"inside-out":         "Inside out",
	"may-sway":           "May sway",
	"may-topple":         "May topple",
	"may-warp":           "May warp",
	"more-than-a-spool":  "More than a spool",
	"narrow-gaps":        "Narrow gaps",
	"no-room-for-base":   "No room for base",
	"not-planned":        "Not planned",
	"not-solid":          "Not solid",
	"nothing-laid":       "Nothing laid",
	"nothing-solid":      "Nothing solid",
	"odd-file":           "Odd file",
	"open-contours":      "Open contours",
	"over-longest-print": "Over longest print",
	"overhangs":          "Overhangs",
	"several-pieces":     "Several pieces",
	"small-contact":      "Small contact",
	"small-features":     "Small features",
	"small-part":         "Small part",
	"starts-in-air":      "Starts in air",
	"surface-colour":     "Surface colour",
	"thin-sheets":        "Thin sheets",
	"thin-walls":         "Thin walls",
	"too-big":            "Too big",
	"too-small":          "Too small",
	"touching-edges":     "Touching edges",
	"turn-to-fit":        "Turn to fit",
	"two-materials":      "Two materials",
	"unit-doubtful":      "Unit doubtful",
	"unit-judged":        "Unit judged",
	"unreadable":         "Unreadable",
	"weak-walls":         "Weak walls",
}

// Label is what stands beside the number of a finding in a picture.
func (f Finding) Label() say.Saying {
	if form, ok := labels[f.ID]; ok {
		return say.Of(form)
	}
	words := strings.ReplaceAll(f.ID, "-", " ")
	return say.Start(say.Named(words))
}
