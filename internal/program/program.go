package program

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
)

// Path is where the program lies: in the repository's folder of what is built,
// by the name of the tests that asked, as it is the first time they ask.
var Path = sync.OnceValues(func() (string, error) {
	top, err := top()
	if err != nil {
		return "", err
	}
	path := filepath.Join(top, "build", "for-tests", filepath.Base(os.Args[0])+".exe")
	cmd := exec.Command("go", "build", "-trimpath", "-o", path, "./cmd/platebook")
	cmd.Dir, cmd.Env = top, append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the program: %w\n%s", err, out)
	}
	return path, nil
})

// top is the folder of the repository: tests run in the one of their package.
func top() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", errors.New("not in the repository")
		}
		dir = up
	}
}
