package store

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// secretSize is 256 bits: as much as the hash it keys.
const secretSize = 32

// Secret returns the desk's own 32 bytes from its folder, made on first use.
// It is never in the database: rows alone, or a copy of them, open no link.
func (s *Store) Secret() ([]byte, error) {
	s.secret.Lock()
	defer s.secret.Unlock()
	path := filepath.Join(s.opts.Folder, secretFile)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		b = make([]byte, secretSize)
		rand.Read(b)
		err = writeWhole(path, b) // the folder is locked: no other desk makes one meanwhile
	}
	if err != nil {
		return nil, fault(fmt.Errorf("secret: %w", err))
	}
	if len(b) != secretSize {
		return nil, fmt.Errorf("secret: %s holds %d bytes, not %d: it is damaged, put it back from a backup", path, len(b), secretSize)
	}
	return b, nil
}

// writeWhole writes a file durably and all at once: aside, then renamed.
func writeWhole(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return moveFile(f.Name(), path)
}
