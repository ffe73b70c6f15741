package desk

import (
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"platebook/engine/printer"
)

// ProfileText writes one profile (a printer.Printer, printer.Material or
// printer.Way) as it could stand in the library's own profiles.
func ProfileText(v any) (string, error) {
	b, err := printer.Show(v)
	return string(b), err
}

// WithMaterial returns profiles in which a material is as m says: its table is
// replaced where it stands, or added at the end. Comments within the table go;
// everything else stays to the letter.
func WithMaterial(p Profiles, m printer.Material) (Profiles, error) {
	return withTable(p, "material", m.ID, m, m.Validate(), func(c *printer.Catalogue) any {
		for i, x := range c.Materials {
			c.Materials[i] = tidyMaterial(x)
		}
		return take(&c.Materials, m.ID, func(m printer.Material) string { return m.ID })
	}, tidyMaterial(m))
}

// WithPrinterModel does for a printer model what WithMaterial does for a material.
func WithPrinterModel(p Profiles, m printer.Printer) (Profiles, error) {
	return withTable(p, "printer", m.ID, m, m.Validate(), func(c *printer.Catalogue) any {
		return take(&c.Printers, m.ID, func(m printer.Printer) string { return m.ID })
	}, m)
}

// take takes the one with an id out of a list, and returns it; nil if there is
// none.
func take[T any](list *[]T, id string, idOf func(T) string) any {
	var rest []T
	var found any
	for _, x := range *list {
		if idOf(x) == id {
			found = x
		} else {
			rest = append(rest, x)
		}
	}
	*list = rest
	return found
}

// withTable puts a table into profiles. out takes what it describes out of a
// catalogue: it must be as wanted afterwards, and all the rest as before.
func withTable(p Profiles, kind, id string, v any, invalid error, out func(*printer.Catalogue) any, wanted any) (Profiles, error) {
	before := printer.Builtin()
	if err := before.Merge([]byte(p.TOML), "profiles"); err != nil {
		return p, fmt.Errorf("the library's profiles: %w", err)
	}
	if invalid != nil {
		return p, fieldFault("name", capital(invalid.Error())+".")
	}
	table, err := ProfileText(v)
	if err != nil {
		return p, err
	}
	next := Profiles{TOML: replaceTable(p.TOML, kind, id, table)}
	after := printer.Builtin()
	err = after.Merge([]byte(next.TOML), "profiles")
	if err == nil {
		found := out(after)
		out(before)
		if reflect.DeepEqual(found, wanted) && reflect.DeepEqual(before.Printers, after.Printers) && reflect.DeepEqual(before.Materials, after.Materials) && reflect.DeepEqual(before.Ways, after.Ways) {
			return next, nil
		}
	}
	return p, fieldFault("name", "The profiles describe this in a way this form cannot change. Change it in their text.")
}

func tidyMaterial(m printer.Material) printer.Material {
	if len(m.Cautions) == 0 {
		m.Cautions = nil
	}
	return m
}

var anyHeader = regexp.MustCompile(`^\s*\[`)

// replaceTable puts a table in the place of the one of the same kind and id,
// or at the end.
func replaceTable(text, kind, id, table string) string {
	header := regexp.MustCompile(`^\s*\[\s*` + kind + `\s*\.\s*["']?` + regexp.QuoteMeta(id) + `["']?\s*\]\s*(#.*)?$`)
	lines := strings.Split(text, "\n")
	table = strings.TrimRight(table, "\n")
	for i, line := range lines {
		if !header.MatchString(line) {
			continue
		}
		end := i + 1
		for end < len(lines) && !anyHeader.MatchString(lines[end]) {
			end++
		}
		// Comments just above the next table belong to that one.
		for end > i+1 && end < len(lines) && (strings.HasPrefix(strings.TrimSpace(lines[end-1]), "#") || strings.TrimSpace(lines[end-1]) == "") {
			end--
		}
		kept := append([]string{}, lines[:i]...)
		kept = append(kept, table)
		if end < len(lines) && strings.TrimSpace(lines[end]) != "" {
			kept = append(kept, "")
		}
		return strings.TrimRight(strings.Join(append(kept, lines[end:]...), "\n"), "\n") + "\n"
	}
	if text = strings.TrimRight(text, "\n"); text != "" {
		text += "\n\n"
	}
	return text + table + "\n"
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
