package archive

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

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// ManifestName is the file that completes an export: by it an export is known and
// checked.
const ManifestName = "export.json"

// manifest is what an export says about itself. It names no moment, so that two
// exports of the same shop are the same.
type manifest struct {
	Program string       `json:"program"` // always "bellbuoy"
	Format  int          `json:"format"`  // of the files; 1
	Tables  int64        `json:"tables"`  // the version of the tables, as the migrations count
	Files   []listedFile `json:"files"`   // all others, in order of name
}

type listedFile struct {
	Name   string `json:"name"` // with / between folders
	SHA256 string `json:"sha256"`
}

const (
	manifestProgram = "bellbuoy"
	manifestFormat  = 1
)

// WriteManifest completes an export that [Export] and others have written into a
// folder: it notes every file with its digest.
func WriteManifest(ctx context.Context, db *store.Reader, folder string) error {
	version, err := db.SchemaVersion(ctx)
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	defer root.Close()
	s := manifest{Program: manifestProgram, Format: manifestFormat, Tables: version}
	if s.Files, err = digests(root.FS()); err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return fmt.Errorf("seal the export: %w", err)
	}
	err = writeFile(root, ManifestName, func(w io.Writer) error { _, err := w.Write(append(text, '\n')); return err })
	return kernel.Wrap(err, "seal the export %q", folder)
}

// digests lists all files of a folder, in order of name.
func digests(files fs.FS) ([]listedFile, error) {
	var all []listedFile
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || name == ManifestName {
			return err
		}
		sum, err := fileDigest(files, name)
		all = append(all, listedFile{name, sum})
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
	info, err := os.Stat(path.Join(folder, ManifestName))
	return err == nil && info.Mode().IsRegular()
}

// readManifest checks that an export is whole and unchanged. Files of its own that
// somebody has added do no harm.
func readManifest(files fs.FS) (manifest, error) {
	var s manifest
	text, err := fs.ReadFile(files, ManifestName)
	if errors.Is(err, fs.ErrNotExist) {
		return s, fmt.Errorf("no %s in it, so it is no export or was cut short; make it again with \"bellbuoy export\"", ManifestName)
	}
	if err == nil {
		err = json.Unmarshal(text, &s)
	}
	switch {
	case err != nil:
		return s, fmt.Errorf("%s: %w", ManifestName, err)
	case s.Program != manifestProgram:
		return s, fmt.Errorf("%s: written by %q, not by bellbuoy", ManifestName, s.Program)
	case s.Format != manifestFormat:
		return s, fmt.Errorf("%s: format %d and this program knows %d: %w", ManifestName, s.Format, manifestFormat, store.ErrNewer)
	}
	for _, f := range s.Files {
		sum, err := fileDigest(files, f.Name)
		if err != nil {
			return s, fmt.Errorf("the export is not whole: %w", err)
		}
		if sum != f.SHA256 {
			return s, fmt.Errorf("%s was changed after the export: %w; to import changed lines, put the changed file alone into another folder", f.Name, store.ErrRefused)
		}
	}
	return s, nil
}
