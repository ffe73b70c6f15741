package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// meta is the part of esbuild's metafile we read.
type meta struct {
	Inputs  map[string]struct{} `json:"inputs"`
	Outputs map[string]struct {
		EntryPoint string `json:"entryPoint"`
	} `json:"outputs"`
}

// names maps what pages call the entry points (desk.js, style.css) and the
// fonts every page needs to the files they are in.
func (m *meta) names() (map[string]string, error) {
	names := map[string]string{}
	for path, out := range m.Outputs {
		switch out.EntryPoint {
		case web + "/front/desk.js":
			names["desk.js"] = filepath.Base(path)
		case web + "/style/desk.css":
			names["style.css"] = filepath.Base(path)
		}
		for _, font := range []string{"alegreya-latin-500-normal", "alegreya-sans-latin-400-normal", "alegreya-sans-latin-700-normal"} {
			if strings.HasPrefix(filepath.Base(path), font) {
				names[font] = filepath.Base(path)
			}
		}
	}
	if len(names) != 5 {
		return nil, fmt.Errorf("%d files with a name in the bundle, want 2 entry points and 3 fonts", len(names))
	}
	return names, nil
}

// licences gathers the licence of every npm package something was taken from.
func (m *meta) licences() (string, error) {
	var packages []string
	for path := range m.Inputs {
		_, within, ok := strings.Cut(filepath.ToSlash(path), "node_modules/")
		if !ok {
			continue
		}
		parts := strings.Split(within, "/")
		name := parts[0]
		if strings.HasPrefix(name, "@") && len(parts) > 1 {
			name += "/" + parts[1]
		}
		packages = append(packages, name)
	}
	slices.Sort(packages)
	packages = slices.Compact(packages)
	if len(packages) == 0 {
		return "", fmt.Errorf("nothing from npm in the bundle")
	}
	var b strings.Builder
	for _, name := range packages {
		dir := filepath.Join(web, "front", "node_modules", filepath.FromSlash(name))
		var p struct{ Version, License string }
		text, err := os.ReadFile(filepath.Join(dir, "package.json"))
		if err != nil {
			return "", err
		}
		if err := json.Unmarshal(text, &p); err != nil {
			return "", fmt.Errorf("%s: %w", name, err)
		}
		// A licence nobody has looked at does not get into the bundle.
		if !slices.Contains([]string{"MIT", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "ISC", "Apache-2.0", "OFL-1.1"}, p.License) {
			return "", fmt.Errorf("%s is under %q: look at that licence and list it here before bundling it", name, p.License)
		}
		files, err := filepath.Glob(filepath.Join(dir, "LICENSE*"))
		if err != nil || len(files) == 0 {
			return "", fmt.Errorf("%s has no licence file", name)
		}
		licence, err := os.ReadFile(files[0])
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "%s %s, %s\n\n%s\n\n\n", name, p.Version, p.License, strings.TrimSpace(string(licence)))
	}
	return strings.TrimSpace(b.String()) + "\n", nil
}
