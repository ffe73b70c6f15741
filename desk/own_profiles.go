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
	before := printer.Builtin()
	if err := before.Merge([]byte(p.TOML), "profiles"); err != nil {
		return p, fmt.Errorf("the library's profiles: %w", err)
	}
	if err := m.Validate(); err != nil {
		return p, fieldFault("name", capital(err.Error())+".")
	}
	table, err := ProfileText(m)
	if err != nil {
		return p, err
	}
	next := Profiles{TOML: replaceTable(p.TOML, "material", m.ID, table)}
	after := printer.Builtin()
	if err := after.Merge([]byte(next.TOML), "profiles"); err != nil || !onlyMaterial(before, after, m) {
		return p, fieldFault("name", "The profiles describe this material in a way this form cannot change. Change it in their text.")
	}
	return next, nil
}

// onlyMaterial says whether two catalogues are the same but for m.
func onlyMaterial(before, after *printer.Catalogue, m printer.Material) bool {
	found := false
	var rest []printer.Material
	for _, x := range after.Materials {
		if x.ID != m.ID {
			rest = append(rest, x)
			continue
		}
		found = reflect.DeepEqual(tidyMaterial(x), tidyMaterial(m))
	}
	var was []printer.Material
	for _, x := range before.Materials {
		if x.ID != m.ID {
			was = append(was, x)
		}
	}
	return found && reflect.DeepEqual(was, rest) && reflect.DeepEqual(before.Printers, after.Printers) && reflect.DeepEqual(before.Ways, after.Ways)
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
