package tariff

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"
)

// A tariff file has tables [tariff.ID]. A table for an id already in the
// catalogue changes only the keys it gives (and of per_gram only the materials
// it names; taxes are replaced as a whole). A new id starts from another with
// based_on, or needs a currency at least.
//
// Amounts are strings: per_gram.pla = "0.10". A whole number may stand without
// quotes. A number with a decimal point may not: TOML readers turn it into
// binary floating point, where 0.10 does not exist.

//go:embed profiles/tariffs.toml
var builtin []byte

// MaxFile is the largest tariff file read, bytes.
const MaxFile = 1 << 17

// mostNested bounds braces, brackets and dots: reading nested values takes
// time and memory with the square of their depth.
const mostNested = 256

// Catalogue holds every tariff that can be chosen, in the order first named.
type Catalogue struct{ Tariffs []Tariff }

// Builtin returns a fresh copy of the tariffs that come with the program: that
// of the invented Larkmere Libraries.
func Builtin() *Catalogue {
	c := &Catalogue{}
	if err := c.Merge(builtin, "tariffs.toml"); err != nil {
		panic("built-in tariffs: " + err.Error()) // the file is part of the program, and its tests read it
	}
	return c
}

// Tariff returns the tariff called id, or an error listing those there are.
func (c *Catalogue) Tariff(id string) (Tariff, error) {
	if i := c.find(id); i >= 0 {
		return c.Tariffs[i].complete(), nil
	}
	var ids []string
	for _, t := range c.Tariffs {
		ids = append(ids, t.ID)
	}
	return Tariff{}, fmt.Errorf("there is no tariff %q; there are: %s", clip(id), strings.Join(ids, ", "))
}

func (c *Catalogue) find(id string) int {
	return slices.IndexFunc(c.Tariffs, func(t Tariff) bool { return t.ID == id })
}

// Merge reads a tariff file and lays it over the catalogue. name is what
// errors call the file. On error the catalogue is unchanged.
func (c *Catalogue) Merge(text []byte, name string) error {
	if len(text) > MaxFile {
		return fmt.Errorf("%s: %d bytes is too long for a tariff file; the most is %d", name, len(text), MaxFile)
	}
	nested := bytes.Count(text, []byte("{"))+bytes.Count(text, []byte("[[")) > mostNested
	for line := range bytes.Lines(text) {
		nested = nested || bytes.Count(line, []byte(".")) > mostNested || bytes.Count(line, []byte("[")) > mostNested
	}
	if nested {
		return fmt.Errorf("%s: nested deeper than any tariff is; a tariff file has tables like [tariff.ID] with one setting a line", name)
	}
	var file map[string]any
	md, err := toml.Decode(string(text), &file)
	if err != nil {
		return fmt.Errorf("%s: %w", name, inWords(err))
	}
	var ids []string
	for _, key := range md.Keys() {
		if key[0] != "tariff" {
			return fmt.Errorf("%s: %q is not a setting in a tariff file; there is [tariff.ID]", name, clip(key[0]))
		}
		if len(key) > 1 && !slices.Contains(ids, key[1]) {
			ids = append(ids, key[1])
		}
	}
	return c.Lay(file["tariff"], ids, name)
}

// Lay lays what stands under "tariff" in a decoded TOML file over the
// catalogue, in the order of ids, or of their names if ids is nil. It serves
// files that hold other things besides; Merge is for files of tariffs only.
func (c *Catalogue) Lay(tables any, ids []string, name string) error {
	if tables == nil {
		return nil
	}
	byID, ok := tables.(map[string]any)
	if !ok {
		return fmt.Errorf("%s: tariff needs an id: write [tariff.ID] and the settings below it", name)
	}
	if ids == nil {
		ids = slices.Sorted(maps.Keys(byID))
	}
	d := Catalogue{slices.Clone(c.Tariffs)}
	for _, id := range ids {
		table, ok := byID[id].(map[string]any)
		if !ok {
			return fmt.Errorf("%s: tariff.%s must be a table: write [tariff.%s] and the settings below it", name, clip(id), clip(id))
		}
		if err := d.lay(id, table); err != nil {
			return fmt.Errorf("%s: [tariff.%s]: %w", name, clip(id), err)
		}
	}
	*c = d
	return nil
}

var (
	keys   = keysOf[Tariff]()
	idForm = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)
)

func keysOf[T any]() []string {
	var keys []string
	t := reflect.TypeFor[T]()
	for i := range t.NumField() {
		if key, _, _ := strings.Cut(t.Field(i).Tag.Get("toml"), ","); key != "-" {
			keys = append(keys, key)
		}
	}
	return keys
}

// lay lays one table over the tariff called id, or adds it.
func (c *Catalogue) lay(id string, table map[string]any) error {
	if !idForm.MatchString(id) {
		return errors.New("an id is small letters, digits and hyphens, 40 at most")
	}
	var t Tariff
	at := c.find(id)
	if at >= 0 {
		t = c.Tariffs[at].complete()
	}
	table = maps.Clone(table)
	if based, given := table["based_on"]; given {
		base, ok := based.(string)
		if !ok {
			return errors.New("based_on must be the id of another tariff, in quotes")
		}
		var err error
		if t, err = c.Tariff(base); err != nil {
			return fmt.Errorf("based_on: %w (what it is based on must come first)", err)
		}
		delete(table, "based_on")
	}
	t.ID = id
	for _, key := range slices.Sorted(maps.Keys(table)) {
		if !slices.Contains(keys, key) {
			return fmt.Errorf("%q is not a setting of a tariff; there are: %s", clip(key), strings.Join(keys, ", "))
		}
		if err := noFloats(key, table[key]); err != nil {
			return err
		}
		if err := decode(key, table[key], &t); err != nil {
			return err
		}
	}
	t = t.complete()
	if err := t.valid(); err != nil {
		return err
	}
	if at >= 0 {
		c.Tariffs[at] = t
	} else {
		c.Tariffs = append(c.Tariffs, t)
	}
	return nil
}

// decode sets one key of t by writing it out again, so that an error is about
// this key alone.
func decode(key string, value any, t *Tariff) error {
	// The library lets these two pass whatever they are.
	switch v := value.(type) {
	case map[string]any:
	case []any:
		if key == "taxes" && len(v) == 0 {
			t.Taxes = nil
			return nil
		}
	default:
		if key == "per_gram" {
			return errors.New("per_gram needs a rate for each material: write per_gram.pla = \"0.10\"")
		}
		if _, tables := v.([]map[string]any); key == "taxes" && !tables {
			return fmt.Errorf("taxes are tables: write [[tariff.%s.taxes]] with name and percent below it", t.ID)
		}
	}
	if key == "taxes" {
		t.Taxes = nil
	}
	var one bytes.Buffer
	if err := toml.NewEncoder(&one).Encode(map[string]any{key: value}); err != nil {
		return fmt.Errorf("%s: %w", key, err)
	}
	md, err := toml.Decode(one.String(), t)
	if err != nil {
		return fmt.Errorf("%s: %w", key, inWords(err))
	}
	if more := md.Undecoded(); len(more) > 0 {
		return fmt.Errorf("%q is not a setting of a tariff; a tax has: %s", clip(more[0].String()), strings.Join(keysOf[Tax](), ", "))
	}
	return nil
}

// noFloats refuses numbers with a decimal point, wherever they stand.
func noFloats(key string, value any) error {
	switch v := value.(type) {
	case float64:
		return fmt.Errorf("%s: write the number in quotes, like %s = \"0.10\", so that not a digit of it is lost", clip(key), clip(key))
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			if err := noFloats(key+"."+k, v[k]); err != nil {
				return err
			}
		}
	case []any:
		for _, x := range v {
			if err := noFloats(key, x); err != nil {
				return err
			}
		}
	case []map[string]any:
		for _, x := range v {
			if err := noFloats(key, x); err != nil {
				return err
			}
		}
	}
	return nil
}

// inWords takes the library's prefix off an error and keeps the line.
func inWords(err error) error {
	var parse toml.ParseError
	if errors.As(err, &parse) && parse.Position.Line > 0 {
		return fmt.Errorf("line %d: %s", parse.Position.Line, strings.TrimPrefix(parse.Message, "toml: "))
	}
	return errors.New(strings.TrimPrefix(err.Error(), "toml: "))
}

// Show writes the tariff as a file that Merge reads back to the same tariff.
func (t Tariff) Show() ([]byte, error) {
	if !idForm.MatchString(t.ID) {
		return nil, fmt.Errorf("the tariff's id %q cannot be shown: an id is small letters, digits and hyphens", clip(t.ID))
	}
	if err := t.Validate(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	e := toml.NewEncoder(&b)
	e.Indent = ""
	err := e.Encode(map[string]any{"tariff": map[string]any{t.ID: t.complete()}})
	// The encoder opens with an empty [tariff], which may stand only once in a file.
	return bytes.TrimPrefix(b.Bytes(), []byte("[tariff]\n")), err
}

// Show writes every tariff of the catalogue.
func (c *Catalogue) Show() ([]byte, error) {
	var b bytes.Buffer
	for i, t := range c.Tariffs {
		text, err := t.Show()
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteByte('\n')
		}
		b.Write(text)
	}
	return b.Bytes(), nil
}
