package quote

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"platebook/engine/printer"
	"platebook/engine/tariff"
)

// Profiles are what every default comes from: printers, materials and ways,
// tariffs, and the rules of the library that choose among them.
type Profiles struct {
	*printer.Catalogue
	tariffs *tariff.Catalogue
	Rules   Rules
}

// Rules are those of the library that a quote needs.
type Rules struct {
	LongestPrint Length `toml:"longest_print"` // the longest one print may take; 0 sets no limit
	Printer      string `toml:"printer"`       // the printer unless said
	Tariff       string `toml:"tariff"`        // the tariff unless said
}

// Length is a length of time as people write it, such as 6h or 5h30m.
type Length struct{ time.Duration }

const mostLength = 1000 * time.Hour

// UnmarshalText reads the form that MarshalText writes.
func (l *Length) UnmarshalText(text []byte) error {
	d, err := time.ParseDuration(strings.ReplaceAll(string(text), " ", ""))
	if err != nil || d < 0 || d > mostLength {
		return fmt.Errorf("%.40q is not a time: write it like \"6h\" or \"5h30m\", and \"0s\" for no limit", text)
	}
	l.Duration = d
	return nil
}

// MarshalText writes hours, minutes and seconds, those that are not zero.
func (l Length) MarshalText() ([]byte, error) {
	s := l.String()
	if short, ok := strings.CutSuffix(s, "m0s"); ok {
		s = short + "m"
	}
	if short, ok := strings.CutSuffix(s, "h0m"); ok {
		s = short + "h"
	}
	return []byte(s), nil
}

//go:embed rules.toml
var rules []byte

// Builtin returns the profiles of the invented Larkmere Libraries, fresh.
func Builtin() *Profiles {
	p := &Profiles{Catalogue: printer.Builtin(), tariffs: tariff.Builtin()}
	if err := p.Merge(rules, "rules.toml"); err != nil {
		panic("built-in rules: " + err.Error()) // the file is part of the program, and its tests read it
	}
	return p
}

// Merge lays a profile file over p: tables [printer.ID], [material.ID],
// [way.ID], [tariff.ID] and [rules], each with only what differs. name is what
// errors call the file. On error p is unchanged.
func (p *Profiles) Merge(text []byte, name string) error {
	next := Profiles{Catalogue: &printer.Catalogue{}, tariffs: &tariff.Catalogue{}, Rules: p.Rules}
	*next.Catalogue, *next.tariffs = *p.Catalogue, *p.tariffs
	if err := next.Catalogue.Merge(text, name, "tariff", "rules"); err != nil {
		return err
	}
	var file map[string]any
	md, err := toml.Decode(string(text), &file)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	// In the order of the file, so that a tariff can be based on one before it.
	ids := []string{}
	for _, key := range md.Keys() {
		if len(key) > 1 && key[0] == "tariff" && !slices.Contains(ids, key[1]) {
			ids = append(ids, key[1])
		}
	}
	if err := next.tariffs.Lay(file["tariff"], ids, name); err != nil {
		return err
	}
	if err := next.lay(file["rules"]); err != nil {
		return fmt.Errorf("%s: [rules]: %w", name, err)
	}
	*p = next
	return nil
}

func (p *Profiles) lay(table any) error {
	if table == nil {
		return nil
	}
	var b bytes.Buffer
	if err := toml.NewEncoder(&b).Encode(table); err != nil {
		return errors.New("write [rules] and the settings below it")
	}
	md, err := toml.Decode(b.String(), &p.Rules)
	if err != nil {
		return err
	}
	if more := md.Undecoded(); len(more) > 0 {
		return fmt.Errorf("%q is not a setting of the rules; there are: longest_print, printer, tariff", more[0].String())
	}
	if _, err := p.Printer(p.Rules.Printer); err != nil {
		return err
	}
	_, err = p.Tariff(p.Rules.Tariff)
	return err
}

// Tariff returns the tariff called id, or an error listing those there are.
func (p *Profiles) Tariff(id string) (tariff.Tariff, error) { return p.tariffs.Tariff(id) }

// Tariffs lists the tariffs, in the order first named.
func (p *Profiles) Tariffs() []tariff.Tariff { return p.tariffs.Tariffs }

// Show writes the rules as a file that Merge reads back.
func (r Rules) Show() ([]byte, error) {
	var b bytes.Buffer
	err := toml.NewEncoder(&b).Encode(map[string]any{"rules": r})
	return b.Bytes(), err
}
