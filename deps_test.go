package platebook

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestImports holds the house's rule on who may import whom: what is not
// listed here is forbidden. Tests may import internal/oracle and, to build
// their inputs, anything below them in the house.
func TestImports(t *testing.T) {
	engine := "engine/say engine/mesh engine/region engine/slice engine/printer engine/tariff engine/plan engine/motion engine/findings engine/picture engine/pose engine/pack engine/likeness engine/quote"
	allowed := map[string]string{
		"engine":           "",
		"engine/say":       "",
		"engine/mesh":      "engine/say",
		"engine/region":    "",
		"engine/tariff":    "engine/say",
		"engine/printer":   "",
		"engine/timetable": "",
		"engine/slice":     "engine/say engine/mesh engine/region",
		"engine/plan":      "engine/say engine/slice engine/region engine/printer",
		"engine/motion":    "engine/say engine/plan engine/printer engine/region",
		"engine/pose":      "engine/say engine/mesh engine/region",
		"engine/pack":      "engine/region",
		"engine/likeness":  "engine/mesh",
		"engine/picture":   "engine/mesh",
		"engine/findings":  "engine/say engine/mesh engine/region engine/slice engine/plan engine/printer",
		"engine/quote":     engine,
		"desk":             engine,
		"desk/store":       "desk " + engine,
		"desk/web":         "desk " + engine,
		"desk/work":        "desk " + engine,
		"desk/mail":        "desk " + engine,
		"desk/demo":        "desk " + engine,
		"cmd/platebook":    "*",
		"internal/oracle":  "",
		"internal/post":    "",
		"internal/program": "",
		"internal/bench":   "",
		"internal/browser": "",
		"internal/visit":   "",
		"tools/bundle":     "",
		"tools/load":       "internal/visit desk/demo desk",

		"engine/say/saytest":   "engine/say",
		"desk/store/storetest": "desk " + engine,
		"internal/pg":          "",
	}
	house, err := os.ReadFile("docs/house.md")
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}}:{{join .Imports \" \"}}", "./...").CombinedOutput()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, out)
	}
	seen := 0
	for line := range strings.Lines(string(out)) {
		pkg, imports, _ := strings.Cut(strings.TrimSpace(line), ":")
		room := strings.TrimPrefix(strings.TrimPrefix(pkg, "platebook"), "/")
		if room == "" {
			continue
		}
		may, ok := allowed[room]
		if !ok {
			t.Errorf("%s is not a room of the house: add it here and say in its doc.go what it holds", room)
			continue
		}
		seen++
		if !strings.Contains(string(house), "| `"+room+"` |") {
			t.Errorf("docs/house.md does not name %s", room)
		}
		for _, imp := range strings.Fields(imports) {
			ours, isOurs := strings.CutPrefix(imp, "platebook/")
			if isOurs && may != "*" && !strings.Contains(" "+may+" ", " "+ours+" ") {
				t.Errorf("%s imports %s, which the house forbids", room, ours)
			}
		}
	}
	if seen < 10 {
		t.Fatalf("looked at %d rooms only", seen)
	}
}
