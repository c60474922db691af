package site

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"sync"

	"bellbuoy/store/imports"
	"bellbuoy/store/imports/sheet"
)

// heldFiles keeps the files of the newest preview until they are taken in or
// another preview replaces them, so that what is taken in is what was shown.
type heldFiles struct {
	Mu    sync.Mutex
	name  string
	dir   string
	files []string
	done  string // the name of the files that were imported last

	returned string // the workbook of rows that the last import returned, "" for none
	rows     int    // how many these are
}

// Returned is the workbook of the rows that the last import returned, "" for none,
// and how many these are.
func (h *heldFiles) Returned() (path string, rows int) {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	return h.returned, h.rows
}

// KeepReturned keeps a workbook of returned rows in the place of the last one; ""
// keeps none.
func (h *heldFiles) KeepReturned(path string, rows int) error {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	old := h.returned
	h.returned, h.rows = path, rows
	if old == "" {
		return nil
	}
	return os.Remove(old)
}

// errExpired says that files are not held any more.
var errExpired = Problem{http.StatusConflict, "The preview has expired: somebody else previewed other files, or the program was restarted. Choose the files again."}

// Books opens the files that are held under a name as tables; close ends them.
func (h *heldFiles) Books(name string, o sheet.Options) (books []*sheet.Book, closeAll func(), err error) {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	if name == "" || name != h.name {
		return nil, nil, errExpired
	}
	return sheet.OpenFiles(h.files, o)
}

// Done forgets the files that are held under a name: they were imported.
func (h *heldFiles) Done(name string) error {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	h.done = name
	return h.Drop()
}

// Imported reports whether the files of a name were the last to be imported.
func (h *heldFiles) Imported(name string) bool {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	return name == h.done
}

// longestName is the longest name of an upload, in bytes: file systems take 255.
const longestName = 200

// Hold copies an upload into a folder of its own and returns its new name.
func (h *heldFiles) Hold(parts []*multipart.FileHeader) (string, error) {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	if err := h.Drop(); err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp("", "bellbuoy-intake-")
	if err != nil {
		return "", fmt.Errorf("keep the files: %w", err)
	}
	h.dir, h.name = dir, NewForm()
	for i, part := range parts {
		name := filepath.Base(part.Filename)
		if name == "." || name == ".." || name == string(filepath.Separator) || len(name) > longestName {
			return "", Problem{http.StatusUnprocessableEntity, fmt.Sprintf("A file cannot be named %.40q. Rename it (at most %d characters) and choose it again.", part.Filename, longestName)}
		}
		// A folder for each: two files of one name are the import's to refuse.
		path := filepath.Join(dir, fmt.Sprint(i), name)
		if err := copyPart(path, part); err != nil {
			return "", err
		}
		h.files = append(h.files, path)
	}
	return h.name, nil
}

// Drop forgets what is held.
func (h *heldFiles) Drop() error {
	dir := h.dir
	h.name, h.dir, h.files = "", "", nil
	if dir == "" {
		return nil
	}
	return os.RemoveAll(dir)
}

// Open opens the files that are held under a name; close ends them.
func (h *heldFiles) Open(name string) (files []imports.File, closeAll func(), err error) {
	h.Mu.Lock()
	defer h.Mu.Unlock()
	var opened []*os.File
	closeAll = func() {
		for _, f := range opened {
			f.Close()
		}
	}
	if name == "" || name != h.name {
		return nil, closeAll, errExpired
	}
	for _, path := range h.files {
		f, err := os.Open(path)
		if err != nil {
			closeAll()
			return nil, func() {}, fmt.Errorf("open a held file: %w", err)
		}
		opened, files = append(opened, f), append(files, imports.File{Name: path, R: f})
	}
	return files, closeAll, nil
}

func copyPart(path string, part *multipart.FileHeader) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("keep the files: %w", err)
	}
	in, err := part.Open()
	if err != nil {
		return fmt.Errorf("keep %q: %w", part.Filename, err)
	}
	defer in.Close()
	out, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("keep %q: %w", part.Filename, err)
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	_, err = io.Copy(out, in)
	return err
}
