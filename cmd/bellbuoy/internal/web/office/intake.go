package office

import (
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"path/filepath"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/imports"
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
	Report *imports.Report // nil before anything was uploaded
	Held   string          // the name under which the previewed files are kept
	Names  []string
	Taken  bool
	Fault  string
}

func (s pages) intakeForm(*http.Request) (site.Response, error) {
	return site.Response{Page: "import.html", Data: &intakePage{}}, nil
}

// intake shows what files would do, or takes in those that were shown.
func (s pages) intake(r *http.Request) (site.Response, error) {
	if err := r.ParseMultipartForm(8 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, fmt.Sprintf("The files could not be read: they are larger than %d MB together, or the upload was cut off.", intakeBody>>20))
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
	return site.Response{Page: "import.html", Code: http.StatusUnprocessableEntity, Data: &intakePage{Fault: "Choose at least one of the five files."}}, nil
}

func (s pages) previewIntake(r *http.Request, parts []*multipart.FileHeader) (site.Response, error) {
	held, err := s.Held.Hold(parts)
	if err != nil {
		return site.Response{}, err
	}
	p, err := s.runIntake(r, held, true)
	if err != nil {
		return site.Response{}, err
	}
	for _, part := range parts {
		p.Names = append(p.Names, filepath.Base(part.Filename))
	}
	if !p.Report.Refused() {
		p.Held = held
	}
	return site.Response{Page: "import.html", Data: p}, nil
}

func (s pages) takeIn(r *http.Request, held string) (site.Response, error) {
	p, err := s.runIntake(r, held, false)
	if err != nil {
		return site.Response{}, err
	}
	if p.Report.Refused() {
		return site.Response{Page: "import.html", Data: p}, nil
	}
	p.Taken = true
	s.Held.Mu.Lock()
	err = s.Held.Drop()
	s.Held.Mu.Unlock()
	if err != nil {
		s.Log.WarnContext(r.Context(), "remove the files of an intake", "error", err)
	}
	return site.Response{Page: "import.html", Data: p}, nil
}

func (s pages) runIntake(r *http.Request, held string, dry bool) (*intakePage, error) {
	files, closeAll, err := s.Held.Open(held)
	if err != nil {
		return nil, err
	}
	defer closeAll()
	report, _, err := s.App.Intake(r.Context(), s.Now(), files, imports.IntakeOptions{Actor: site.Actor(r), DryRun: dry, MaxFaults: intakeFaults})
	if err != nil && !errors.Is(err, imports.ErrIntake) {
		return nil, err
	}
	return &intakePage{Report: &report}, nil
}
