package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"

	"bellbuoy/store/internal/kernel"
)

// SealName is the file that completes an export: by it an export is known and
// checked.
const SealName = "export.json"

// seal is what an export says about itself. It names no moment, so that two
// exports of the same shop are the same.
type seal struct {
	Program string       `json:"program"` // always "bellbuoy"
	Format  int          `json:"format"`  // of the files; 1
	Tables  int64        `json:"tables"`  // the version of the tables, as the migrations count
	Files   []sealedFile `json:"files"`   // all others, in order of name
}

type sealedFile struct {
	Name   string `json:"name"` // with / between folders
	SHA256 string `json:"sha256"`
}

const (
	sealProgram = "bellbuoy"
	sealFormat  = 1
)

// Seal completes an export that [DB.Export] and others have written into a
// folder: it notes every file with its digest.
func (db *DB) Seal(ctx context.Context, folder string) error {
	version, err := db.SchemaVersion(ctx)
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	defer root.Close()
	s := seal{Program: sealProgram, Format: sealFormat, Tables: version}
	if s.Files, err = digests(root.FS()); err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	err = writeFile(root, SealName, func(w io.Writer) error { _, err := w.Write(append(text, '\n')); return err })
	return kernel.Wrap(err, "seal the export %q", folder)
}

// digests lists all files of a folder, in order of name.
func digests(files fs.FS) ([]sealedFile, error) {
	var all []sealedFile
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || name == SealName {
			return err
		}
		sum, err := fileDigest(files, name)
		all = append(all, sealedFile{name, sum})
		return err
	})
	return all, err
}

func fileDigest(files fs.FS, name string) (string, error) {
	f, err := files.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("read %q: %w", name, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// IsExport reports whether a folder holds an export.
func IsExport(folder string) bool {
	info, err := os.Stat(path.Join(folder, SealName))
	return err == nil && info.Mode().IsRegular()
}

// readSeal checks that an export is whole and unchanged. Files of its own that
// somebody has added do no harm.
func readSeal(files fs.FS) (seal, error) {
	var s seal
	text, err := fs.ReadFile(files, SealName)
	if errors.Is(err, fs.ErrNotExist) {
		return s, fmt.Errorf("no %s in it, so it is no export or was cut short; make it again with \"bellbuoy export\"", SealName)
	}
	if err == nil {
		err = json.Unmarshal(text, &s)
	}
	switch {
	case err != nil:
		return s, fmt.Errorf("%s: %w", SealName, err)
	case s.Program != sealProgram:
		return s, fmt.Errorf("%s: written by %q, not by bellbuoy", SealName, s.Program)
	case s.Format != sealFormat:
		return s, fmt.Errorf("%s: format %d and this program knows %d: %w", SealName, s.Format, sealFormat, ErrNewer)
	}
	for _, f := range s.Files {
		sum, err := fileDigest(files, f.Name)
		if err != nil {
			return s, fmt.Errorf("the export is not whole: %w", err)
		}
		if sum != f.SHA256 {
			return s, fmt.Errorf("%s was changed after the export: %w; to take in changed lines, put the changed file alone into another folder", f.Name, ErrRefused)
		}
	}
	return s, nil
}
