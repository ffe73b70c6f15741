package printer

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/BurntSushi/toml"
)

// A profile file has tables [printer.ID], [material.ID] and [way.ID]. A table
// for an id already in the catalogue changes only the keys it gives. A new id
// starts from another with based_on, or gives every key itself.

// MaxFile is the largest profile file read, bytes.
const MaxFile = 1 << 17

// mostNested bounds braces in a file and dots in a line: reading nested tables
// takes time and memory with the square of their depth. A profile needs two dots.
const mostNested = 256

const basedOn = "based_on"

var kinds = []string{"printer", "material", "way"}

// optional keys may be left out of a new profile that is not based on another.
var optional = map[string]bool{"cautions": true, "soluble": true, "support_gap_layers": true}

// Merge reads a profile file and lays it over the catalogue, field by field.
// name is what errors call the file; others names tables that the file may hold
// for someone else to read. On error the catalogue is unchanged.
func (c *Catalogue) Merge(text []byte, name string, others ...string) error {
	d := c.clone()
	err := d.merge(text, name, others...)
	if err == nil {
		if err = d.Validate(); err != nil {
			err = fmt.Errorf("%s: %w", name, err)
		}
	}
	if err == nil {
		*c = *d
	}
	return err
}

// merge is Merge without validation, and may leave c half changed.
func (c *Catalogue) merge(text []byte, name string, others ...string) error {
	if len(text) > MaxFile {
		return fmt.Errorf("%s: %d bytes is too long for a profile file; the most is %d", name, len(text), MaxFile)
	}
	nested := bytes.Count(text, []byte("{")) > mostNested
	for line := range bytes.Lines(text) {
		nested = nested || bytes.Count(line, []byte(".")) > mostNested
	}
	if nested {
		return fmt.Errorf("%s: nested deeper than any profile is; a profile file has tables like [way.ID] with one setting a line", name)
	}
	var file map[string]any
	md, err := toml.Decode(string(text), &file)
	if err != nil {
		return fmt.Errorf("%s: %w", name, inWords(err))
	}
	// Keys come in the order of the file; a table is taken where its first key stands.
	done := map[string]bool{}
	for _, key := range md.Keys() {
		kind := key[0]
		if slices.Contains(others, kind) {
			continue
		}
		if len(key) == 1 {
			if !slices.Contains(kinds, kind) {
				return fmt.Errorf("%s: %s", name, unknown(kind, "in a profile file", append(slices.Clone(kinds), others...)))
			}
			if _, isTable := file[kind].(map[string]any); !isTable {
				return fmt.Errorf("%s: %s needs an id: write [%s.ID] and the settings below it", name, kind, kind)
			}
			continue
		}
		id := key[1]
		if done[kind+"."+id] {
			continue
		}
		done[kind+"."+id] = true
		tables, _ := file[kind].(map[string]any)
		table, ok := tables[id].(map[string]any)
		if !ok {
			return fmt.Errorf("%s: %s.%s must be a table: write [%s.ID] and the settings below it", name, kind, id, kind)
		}
		switch kind {
		case "printer":
			err = overlay(&c.Printers, kind, id, table, func(p *Printer) { p.ID = id })
		case "material":
			err = overlay(&c.Materials, kind, id, table, func(m *Material) { m.ID = id; m.Cautions = slices.Clone(m.Cautions) })
		case "way":
			err = overlay(&c.Ways, kind, id, table, func(w *Way) { w.ID = id })
		default:
			err = errors.New(unknown(kind, "in a profile file", kinds))
		}
		if err != nil {
			return fmt.Errorf("%s: [%s.%s]: %w", name, kind, id, err)
		}
	}
	return nil
}

// overlay lays table over the profile called id in list, or over the one it is
// based on. own gives the copy its id and its own slices: decoding writes into
// slices that are there.
func overlay[P profile](list *[]P, kind, id string, table map[string]any, own func(*P)) error {
	known := keysOf[P]()
	for _, key := range sortedKeys(table) {
		if key != basedOn && !slices.Contains(known, key) {
			return errors.New(unknown(key, "of a "+kind, append(known, basedOn)))
		}
	}
	var p P
	at := find(*list, id)
	if at >= 0 {
		p = (*list)[at]
	}
	if based, given := table[basedOn]; given {
		base, ok := based.(string)
		if !ok {
			return fmt.Errorf("based_on must be the id of another %s, in quotes", kind)
		}
		i := find(*list, base)
		if i < 0 {
			return fmt.Errorf("based_on: %w (what it is based on must come first)", notFound(kind, base, *list))
		}
		p = (*list)[i]
	} else if at < 0 {
		var missing []string
		for _, key := range known {
			if _, given := table[key]; !given && !optional[key] {
				missing = append(missing, key)
			}
		}
		if missing != nil {
			return fmt.Errorf("this %s is new and says nothing of %s; give them all, or start from another with based_on = \"ID\"",
				kind, strings.Join(missing, ", "))
		}
	}
	own(&p)
	if err := decodeTable(table, &p); err != nil {
		return err
	}
	if at >= 0 {
		(*list)[at] = p
	} else {
		*list = append(*list, p)
	}
	return nil
}

// decodeTable decodes one table by writing it out again, so that an error is
// about this table alone.
func decodeTable(table map[string]any, into any) error {
	var one bytes.Buffer
	for _, key := range sortedKeys(table) {
		if key == basedOn {
			continue
		}
		one.Reset()
		if err := toml.NewEncoder(&one).Encode(map[string]any{key: table[key]}); err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
		if _, err := toml.Decode(one.String(), into); err != nil {
			return fmt.Errorf("%s: %w", key, inWords(err))
		}
	}
	return nil
}

// Show writes a Printer, Material, Way or *Catalogue as a profile file that
// Merge reads back to the identical value.
func Show(v any) ([]byte, error) {
	var b bytes.Buffer
	var err error
	switch v := v.(type) {
	case Printer:
		err = show(&b, "printer", v)
	case *Printer:
		return Show(*v)
	case Material:
		err = show(&b, "material", v)
	case *Material:
		return Show(*v)
	case Way:
		err = show(&b, "way", v)
	case *Way:
		return Show(*v)
	case *Catalogue:
		for _, p := range v.Materials {
			err = errors.Join(err, show(&b, "material", p))
		}
		for _, p := range v.Ways {
			err = errors.Join(err, show(&b, "way", p))
		}
		for _, p := range v.Printers {
			err = errors.Join(err, show(&b, "printer", p))
		}
	default:
		err = fmt.Errorf("a %T is not a profile that can be shown", v)
	}
	if err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func show[P profile](b *bytes.Buffer, kind string, p P) error {
	id := idOf(p)
	if err := checkID(kind, id); err != nil {
		return err
	}
	if b.Len() > 0 {
		b.WriteByte('\n')
	}
	fmt.Fprintf(b, "[%s.%s]\n", kind, id)
	e := toml.NewEncoder(b)
	e.Indent = ""
	return e.Encode(p)
}

// keysOf lists the TOML keys of a profile in the order of its fields.
func keysOf[P profile]() []string {
	var keys []string
	t := reflect.TypeFor[P]()
	for i := range t.NumField() {
		if key := t.Field(i).Tag.Get("toml"); key != "-" {
			keys = append(keys, key)
		}
	}
	return keys
}

func sortedKeys(m map[string]any) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// inWords takes the library's prefix off an error and keeps the line.
func inWords(err error) error {
	var parse toml.ParseError
	if errors.As(err, &parse) && parse.Position.Line > 0 {
		return fmt.Errorf("line %d: %s", parse.Position.Line, strings.TrimPrefix(parse.Message, "toml: "))
	}
	return errors.New(strings.TrimPrefix(err.Error(), "toml: "))
}

func unknown(key, where string, known []string) string {
	if near := nearest(key, known); near != "" {
		return fmt.Sprintf("%q is not a setting %s; did you mean %q?", clip(key), where, near)
	}
	return fmt.Sprintf("%q is not a setting %s; there are: %s", clip(key), where, strings.Join(known, ", "))
}

// nearest returns the known word with the fewest edits to word (Levenshtein),
// the first of equals, or "" if none shares at least half its letters.
func nearest(word string, known []string) string {
	best, least := "", 0
	for _, k := range known {
		longest := max(utf8.RuneCountInString(word), utf8.RuneCountInString(k))
		if d := edits(clip(word), k); 2*d <= longest && (best == "" || d < least) {
			best, least = k, d
		}
	}
	return best
}

// edits counts the insertions, deletions and changes that turn a into b.
func edits(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		// Invariant: row[j] is the distance of x[:i+1] to y[:j], from j = 0 up to where the loop is.
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			change := diagonal
			if x[i] != y[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, diagonal+1)
		}
	}
	return row[len(y)]
}

// clip keeps a hostile key from filling the screen.
func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
