package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"platebook/desk"
)

// Pages of settings have much in common: a form in parts, what version it is
// and who saved it, what someone else saved meanwhile, and the way to its
// history. A sheet is that, and the parts are drawn by "sheet".

type sheet struct {
	Title   string
	Lead    string
	Places  []place // the other pages of settings
	Path    string  // where the form is sent
	Version int64   // the person saw, of what is changed
	Seen    int     // versions its history had then
	Saved   string  // "Version 3, saved by Rowan on 4 May 2026, 10:00."
	History string  // path
	Since   *since
	Parts   []sheetPart
	Button  string
	Errors  []Missed
}

// sheetPart is some questions under a heading. In a Row they stand side by
// side where there is room.
type sheetPart struct {
	Title, Say string
	Row        bool
	Fields     []asked
}

// asked is a question and how it is drawn: text, area, select, radios, checks
// or check.
type asked struct {
	As string
	Field
}

// place is one page of settings in the list of them.
type place struct {
	Path, Name string
	Here       bool
	Say        string // in the list of all
	Todo       string // what is still to be settled there
}

// since is what others saved while a page was open.
type since struct {
	Say     string
	Changes []changed
}

// changed is one thing that differs, in words.
type changed struct{ What, Before, After string }

// lookUp finds a field of the sheet by its name.
func (v *sheet) lookUp(name string) *Field {
	for i := range v.Parts {
		for j := range v.Parts[i].Fields {
			if f := &v.Parts[i].Fields[j].Field; f.Name == name {
				return f
			}
		}
	}
	return nil
}

// asTyped puts texts and choices back as they were sent.
func (v *sheet) asTyped(r *http.Request) {
	for i := range v.Parts {
		for j := range v.Parts[i].Fields {
			if f := &v.Parts[i].Fields[j]; (f.As == "text" || f.As == "select") && r.PostForm.Has(f.Name) {
				f.Value = r.PostFormValue(f.Name)
			}
		}
	}
}

// fault puts what is wrong at its fields and on top. It says whether err is
// one the page itself shows.
func (v *sheet) fault(err error) bool {
	var f *desk.Fault
	if !errors.As(err, &f) {
		return false
	}
	switch f.Kind {
	case desk.Wrong:
		said := map[string]bool{}
		for name, say := range f.Fields {
			if x := v.lookUp(name); x != nil {
				// The engine names a number by its key; people know the question.
				if rest, ok := strings.CutPrefix(say, name+": "); ok {
					say = x.Label + ": " + rest
				}
				x.Error = say
				said[name] = true
			}
		}
		for _, p := range v.Parts {
			for _, a := range p.Fields {
				v.Errors = append(v.Errors, missed(a.Field)...)
			}
		}
		for name, say := range f.Fields {
			if !said[name] {
				v.Errors = append(v.Errors, Missed{Target: "main", Say: say})
			}
		}
		if len(v.Errors) == 0 {
			v.Errors = []Missed{{Target: "main", Say: f.Say}}
		}
		return true
	case desk.Stale, desk.NotYours:
		if len(f.Fields) == 0 && f.Kind == desk.NotYours {
			return false
		}
		if v.Since == nil {
			v.Errors = append(v.Errors, Missed{Target: "main", Say: f.Say})
		}
		return true
	}
	return false
}

// meanwhile makes the page of someone who was overtaken one that can be sent
// again: it shows what was saved since, keeps what was typed, and from now on
// stands on the newest version.
func (v *sheet) meanwhile(history []desk.Setting, seen int, version int64, zone string, name func([]string, string) changed) {
	v.Version, v.Seen = version, len(history)
	if len(history) == 0 {
		return
	}
	newest := history[0]
	var before []byte
	if i := len(history) - seen; i >= 0 && i < len(history) {
		before = history[i].Body
	}
	v.Since = &since{
		Say: fmt.Sprintf("%s saved this on %s, while you had it open. What you typed is all still below. What they changed is listed here; "+
			"if you save now, what you typed replaces it.", newest.By, moment(local(newest.Since, zone))),
		Changes: differences(desk.Changes(before, newest.Body), name),
	}
}

func differences(all []desk.Change, name func([]string, string) changed) []changed {
	var said []changed
	for _, c := range all {
		before, after := name(c.Path, c.Before), name(c.Path, c.After)
		said = append(said, changed{after.What, before.After, after.After})
	}
	return said
}

// savedNote says what version is in force.
func savedNote(history []desk.Setting, zone string) string {
	if len(history) == 0 {
		return "Nobody has saved this yet: what stands here comes with the program."
	}
	return fmt.Sprintf("Version %d, saved by %s on %s.", history[0].Version, history[0].By, moment(local(history[0].Since, zone)))
}

// The values of a form, with what cannot be read noted by field.
type typed struct {
	r     *http.Request
	wrong map[string]string
}

func typedIn(r *http.Request) *typed { return &typed{r, map[string]string{}} }

func (t *typed) text(name string) string { return t.r.PostFormValue(name) }

func (t *typed) whole(name string) int {
	s := strings.TrimSpace(t.text(name))
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil || n > 1e9 || n < -1e9 {
		t.wrong[name] = "Write a whole number."
		return 0
	}
	return n
}

func (t *typed) number(name string) float64 {
	s := strings.Replace(strings.TrimSpace(t.text(name)), ",", ".", 1)
	if s == "" {
		return 0
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || x != x || x > 1e12 || x < -1e12 {
		t.wrong[name] = "Write a number, like 12 or 12.5."
		return 0
	}
	return x
}

func (t *typed) ticked(name string) bool { return t.text(name) != "" }

func (t *typed) all(name string) []string {
	_ = t.r.PostFormValue(name) // parses
	return t.r.PostForm[name]
}

// fault is what could not be read, put together with what the desk found; err
// comes back if it is of another kind.
func (t *typed) fault(err error) error {
	if len(t.wrong) == 0 {
		return err
	}
	var f *desk.Fault
	if errors.As(err, &f) && f.Kind == desk.Wrong {
		for name, say := range f.Fields {
			if t.wrong[name] == "" {
				t.wrong[name] = say
			}
		}
	} else if err != nil && !(errors.As(err, &f) && f.Kind == desk.Stale) {
		return err
	}
	return &desk.Fault{Kind: desk.Wrong, Say: "Some of it cannot be read. Nothing was saved.", Fields: t.wrong}
}

// plainNumber writes a number as people type it.
func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// joined is a list as lines of an area.
func joined(lines []string) string { return strings.Join(lines, "\n") }

func splitLines(text string) []string {
	var all []string
	for line := range strings.SplitSeq(text, "\n") {
		if line = strings.TrimSpace(line); line != "" {
			all = append(all, line)
		}
	}
	return all
}

// historyView lists versions.
type historyView struct {
	Title   string
	Places  []place
	Back    string
	Entries []historyEntry
}

type historyEntry struct {
	Version int
	Who     string
	At      time.Time
	First   bool
	Changes []changed
}

var historyPage = newPage[historyView](forStaff, "settings_history.html")

func entries(history []desk.Setting, zone string, name func([]string, string) changed) []historyEntry {
	var all []historyEntry
	for i, h := range history {
		e := historyEntry{Version: h.Version, Who: h.By, At: local(h.Since, zone)}
		if i+1 < len(history) {
			e.Changes = differences(desk.Changes(history[i+1].Body, h.Body), name)
		} else {
			e.First = true
			e.Changes = differences(desk.Changes(nil, h.Body), name)
		}
		all = append(all, e)
	}
	return all
}

// naming says paths of a document in the words of its form; ids become names.
func naming(words map[string]string, names map[string]string) func([]string, string) changed {
	return func(path []string, value string) changed {
		var said []string
		for i, p := range path {
			w := words[p]
			if joined := words[strings.Join(path[:i+1], ".")]; joined != "" {
				w = joined
			}
			if w == "" {
				w = strings.ReplaceAll(p, "_", " ")
			}
			for id, name := range names {
				w = strings.ReplaceAll(w, id, name)
			}
			said = append(said, w)
		}
		if name := names[value]; name != "" {
			value = name
		}
		return changed{What: strings.Join(said, ", "), After: value}
	}
}

// sheetPage is a page of settings that is a form and no more.
var sheetPage = newPage[sheet](forStaff, "settings_sheet.html")

// asJSON is for comparing documents, and for what a script of ours is given in
// an attribute.
func asJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return ""
	}
	return string(b)
}
