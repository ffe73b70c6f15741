// Bundle puts what the desk's pages bring to the browser into desk/web/dist:
// the stylesheet with its fonts, our scripts with the libraries they stand on,
// each under a name that carries a hash of its content; a list of those names
// (names.json) and the licences of everything taken from npm (licences.txt).
//
// Run from the top of the repository, after npm ci in desk/web/front.
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

const (
	web  = "desk/web"
	dist = web + "/dist"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

func run() error {
	if _, err := os.Stat(web + "/front/node_modules/htmx.org"); err != nil {
		return fmt.Errorf("%s/front/node_modules is not there: run npm ci in %s/front first", web, web)
	}
	r := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{
			{InputPath: web + "/front/desk.js", OutputPath: "desk"},
			{InputPath: web + "/style/desk.css", OutputPath: "style"},
		},
		// The stylesheet lies beside front, and its fonts come from there too.
		NodePaths: []string{web + "/front/node_modules"},
		Outdir:    dist,
		Bundle:    true,
		// The 3D view is a chunk of its own: only pages that show one load it.
		Splitting:         true,
		Format:            api.FormatESModule,
		Target:            api.ES2022,
		MinifySyntax:      true,
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		EntryNames:        "[name]-[hash]",
		ChunkNames:        "[name]-[hash]",
		AssetNames:        "[name]-[hash]",
		Loader:            map[string]api.Loader{".woff2": api.LoaderFile, ".svg": api.LoaderFile},
		LegalComments:     api.LegalCommentsNone, // licences.txt has them whole
		Metafile:          true,
		LogLevel:          api.LogLevelWarning,
	})
	if len(r.Errors) > 0 {
		return fmt.Errorf("%d errors", len(r.Errors))
	}
	var m meta
	if err := json.Unmarshal([]byte(r.Metafile), &m); err != nil {
		return fmt.Errorf("what was bundled: %w", err)
	}
	names, err := m.names()
	if err != nil {
		return err
	}
	list, err := json.MarshalIndent(names, "", "  ")
	if err != nil {
		return err
	}
	licences, err := m.licences()
	if err != nil {
		return err
	}
	if err := sweep(); err != nil {
		return err
	}
	for _, f := range r.OutputFiles {
		if err := os.WriteFile(f.Path, f.Contents, 0o644); err != nil {
			return err
		}
		if ext := filepath.Ext(f.Path); ext != ".js" && ext != ".css" {
			continue // fonts are packed already
		}
		packed, err := pack(f.Contents)
		if err != nil {
			return err
		}
		if err := os.WriteFile(f.Path+".gz", packed, 0o644); err != nil {
			return err
		}
	}
	if err := os.WriteFile(dist+"/licences.txt", []byte(licences), 0o644); err != nil {
		return err
	}
	return os.WriteFile(dist+"/names.json", append(list, '\n'), 0o644)
}

// pack compresses what goes to browsers as text, once for all of them.
func pack(text []byte) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(text); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// sweep takes away what an earlier run left.
func sweep() error {
	old, err := os.ReadDir(dist)
	if err != nil {
		return err
	}
	for _, f := range old {
		if strings.HasPrefix(f.Name(), ".") {
			continue
		}
		if err := os.Remove(filepath.Join(dist, f.Name())); err != nil {
			return err
		}
	}
	return nil
}
