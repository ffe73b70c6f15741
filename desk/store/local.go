package store

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
)

// moveFile renames a synced file to a name in the same file system and makes
// the new name durable too: without syncing the folder a power cut may undo a
// rename that was acknowledged.
func moveFile(from, to string) error {
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(to))
}

// syncFolder makes the names in a folder durable. Windows keeps them with the
// file and cannot sync a folder.
func syncFolder(folder string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// syncFile makes a written file's bytes durable.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
