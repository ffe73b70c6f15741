package mail

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
)

// Notion: plain rules, each a pattern of kinds of word and what it means. A
// letter is a wish in somebody's own words; a rule that fires shows the words
// it fired on, so that staff see at once whether it understood. Nothing is
// decided here, and where two rules disagree both are shown. A wish misread
// costs more than one overlooked, so a rule in doubt is silent. Rejected:
// weighing likelihoods, since a reader cannot check them; patterns over the
// letters of the text, since they do not see the clause they stand in.

// Field names what a suggestion is for.
type Field string

const (
	SizeField     Field = "size"     // Value is mm of the longest side; Axis may say which side
	LargestField  Field = "largest"  // as big as it goes
	ScaleField    Field = "scale"    // Value is a factor
	ColourField   Field = "colour"   // Value is a colour in stock
	CopiesField   Field = "copies"   // Value is a number
	MaterialField Field = "material" // Value is a material's id
	SupportsField Field = "supports" // Value is "none", "breakaway" or "soluble"
	NeededField   Field = "needed"   // Value is a date, 2006-01-02
	BranchField   Field = "branch"   // Value is a branch's id
	InfillField   Field = "infill"   // Value is percent
)

// Suggestion is one thing a letter seems to ask for.
type Suggestion struct {
	Field Field  `json:"field"`
	Value string `json:"value"`
	Axis  string `json:"axis,omitempty"` // "tall", "wide" or "deep", for a size
	Words string `json:"words"`          // as they stand in the letter
	At    int    `json:"at"`             // where they begin, bytes
}

// Stock is what the library has, in the words patrons may use for it.
type Stock struct {
	Colours   []string          // as on the spools
	Materials map[string]string // name or id, in lower case → id
	Branches  map[string]string // name → id
	Today     time.Time         // branch-local
}

// Wishes picks out of free text what it seems to ask for, in the order of the
// text. English and French are understood.
func Wishes(text string, s Stock) []Suggestion {
	if len(text) > 1<<16 {
		text = text[:1<<16]
	}
	w := &wisher{text: text, stock: s}
	w.settle()
	w.sentences()
	w.classify()
	w.used, w.measured = make([]bool, len(w.toks)), map[int]int{}
	w.names()
	w.sizes()
	w.scales()
	w.dates()
	w.supports()
	w.branches()
	w.materials()
	w.colours()
	w.copies()
	sort.SliceStable(w.out, func(i, j int) bool { return w.out[i].At < w.out[j].At })
	var out []Suggestion
	seen := map[string]bool{}
	for _, g := range w.out {
		key := string(g.Field) + "\x00" + g.Value + "\x00" + g.Axis
		if !seen[key] && len(out) < 40 {
			seen[key] = true
			out = append(out, g)
		}
	}
	return out
}

type wisher struct {
	text     string
	stock    Stock
	toks     []token
	said     []saying
	hits     [][]hit // kinds of the word or phrase that begins at a token
	ends     [][]hit // and of that which ends there
	mood     []mood
	denied   []bool
	inside   []bool // tokens within a phrase that hides them
	used     []bool // tokens a rule has understood, that no later one may use otherwise
	named    []name // colours, materials and branches, where they stand
	namedAt  map[int]int
	measured map[int]int // where a measure begins, and where it ends
	out      []Suggestion
}

// add suggests what tokens from up to to say, and takes them.
func (w *wisher) add(f Field, value, axis string, from, to int) {
	a, b := w.toks[from].from, w.toks[to-1].to
	w.out = append(w.out, Suggestion{Field: f, Value: value, Axis: axis, Words: strings.Join(strings.Fields(strings.ToValidUTF8(w.text[a:b], "")), " "), At: a})
	w.use(from, to)
}

func (w *wisher) use(from, to int) {
	for i := from; i < to; i++ {
		w.used[i] = true
	}
}

func (w *wisher) free(from, to int) bool {
	for i := from; i < to; i++ {
		if w.used[i] {
			return false
		}
	}
	return true
}

// wished says whether what a token says is asked for, or stands alone.
func (w *wisher) wished(i int) bool {
	return !w.denied[i] && (w.mood[i] == asked || w.mood[i] == bare)
}

func plain(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

// String is the suggestion in a few words, for lists.
func (g Suggestion) String() string {
	return fmt.Sprintf("%s %s (“%s”)", g.Field, g.Value, g.Words)
}
