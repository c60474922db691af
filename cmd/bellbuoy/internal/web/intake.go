package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"bellbuoy/store"
)

const (
	// intakeBody is the largest upload, in bytes: the five files of a large
	// shop with years of history.
	intakeBody = 256 << 20
	// intakeFaults is how many faults a page lists.
	intakeFaults = 100
)

// intakePage takes files in, first for show.
type intakePage struct {
	Report *store.Report // nil before anything was uploaded
	Held   string        // the name under which the previewed files are kept
	Names  []string
	Taken  bool
	Fault  string
}

// heldFiles keeps the files of the newest preview until they are taken in or
// another preview replaces them, so that what is taken in is what was shown.
type heldFiles struct {
	mu    sync.Mutex
	name  string
	dir   string
	files []string
}

// hold copies an upload into a folder of its own and returns its new name.
func (h *heldFiles) hold(parts []*multipart.FileHeader) (string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.drop(); err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp("", "bellbuoy-intake-")
	if err != nil {
		return "", fmt.Errorf("keep the files: %w", err)
	}
	h.dir, h.name = dir, newForm()
	for i, part := range parts {
		// A folder for each: two files of one name are the intake's to refuse.
		path := filepath.Join(dir, fmt.Sprint(i), filepath.Base(part.Filename))
		if err := copyPart(path, part); err != nil {
			return "", err
		}
		h.files = append(h.files, path)
	}
	return h.name, nil
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

// drop forgets what is held.
func (h *heldFiles) drop() error {
	dir := h.dir
	h.name, h.dir, h.files = "", "", nil
	if dir == "" {
		return nil
	}
	return os.RemoveAll(dir)
}

// open opens the files that are held under a name; close ends them.
func (h *heldFiles) open(name string) (files []store.File, closeAll func(), err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	var opened []*os.File
	closeAll = func() {
		for _, f := range opened {
			f.Close()
		}
	}
	if name == "" || name != h.name {
		return nil, closeAll, problem{http.StatusConflict, "These files are no longer held: somebody else looked at others meanwhile, or the program was restarted. Choose the files again."}
	}
	for _, path := range h.files {
		f, err := os.Open(path)
		if err != nil {
			closeAll()
			return nil, func() {}, fmt.Errorf("open a held file: %w", err)
		}
		opened, files = append(opened, f), append(files, store.File{Name: path, R: f})
	}
	return files, closeAll, nil
}

func (s *Server) intakeForm(*http.Request) (response, error) {
	return response{page: "intake.html", data: &intakePage{}}, nil
}

// intake shows what files would do, or takes in those that were shown.
func (s *Server) intake(r *http.Request) (response, error) {
	if err := r.ParseMultipartForm(8 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return response{}, problem{http.StatusBadRequest, fmt.Sprintf("The files could not be read: they are larger than %d MB together, or the upload broke off.", intakeBody>>20)}
	}
	if r.MultipartForm != nil {
		defer r.MultipartForm.RemoveAll()
		if parts := r.MultipartForm.File["files"]; len(parts) > 0 {
			return s.previewIntake(r, parts)
		}
	}
	if held := r.FormValue("held"); held != "" {
		return s.takeIn(r, held)
	}
	return response{page: "intake.html", code: http.StatusUnprocessableEntity, data: &intakePage{Fault: "Choose at least one of the five files."}}, nil
}

func (s *Server) previewIntake(r *http.Request, parts []*multipart.FileHeader) (response, error) {
	held, err := s.held.hold(parts)
	if err != nil {
		return response{}, err
	}
	p, err := s.runIntake(r, held, true)
	if err != nil {
		return response{}, err
	}
	for _, part := range parts {
		p.Names = append(p.Names, filepath.Base(part.Filename))
	}
	if !p.Report.Refused() {
		p.Held = held
	}
	return response{page: "intake.html", data: p}, nil
}

func (s *Server) takeIn(r *http.Request, held string) (response, error) {
	p, err := s.runIntake(r, held, false)
	if err != nil {
		return response{}, err
	}
	if p.Report.Refused() {
		return response{page: "intake.html", data: p}, nil
	}
	p.Taken = true
	s.held.mu.Lock()
	err = s.held.drop()
	s.held.mu.Unlock()
	if err != nil {
		s.Log.WarnContext(r.Context(), "remove the files of an intake", "error", err)
	}
	return response{page: "intake.html", data: p}, s.settle(r)
}

func (s *Server) runIntake(r *http.Request, held string, dry bool) (*intakePage, error) {
	files, closeAll, err := s.held.open(held)
	if err != nil {
		return nil, err
	}
	defer closeAll()
	report, err := s.App.DB.Intake(r.Context(), s.Now(), files, s.App.Known(), store.IntakeOptions{Actor: actor(r), DryRun: dry, MaxFaults: intakeFaults})
	if err != nil && !errors.Is(err, store.ErrIntake) {
		return nil, err
	}
	return &intakePage{Report: &report}, nil
}

// faultPlace is where a fault is, as an editor shows it.
func faultPlace(f store.Fault) string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ", line %d", f.Line)
	}
	if f.Field != "" {
		b.WriteString(", " + f.Field)
	}
	return b.String()
}
