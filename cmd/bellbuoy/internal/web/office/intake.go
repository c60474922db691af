package office

import (
	"errors"
	"fmt"
	"mime/multipart"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
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
	Fault  string
	Back   int // rows of the last import that need a person
}

// isOurs reports whether a file is of the five that have our own columns, or is
// meant to be: one that bears nearly the name of one is told so.
func isOurs(parts []*multipart.FileHeader) bool {
	stem := func(name string) string {
		return strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(filepath.Base(name)), ".csv"), "s")
	}
	return slices.ContainsFunc(parts, func(p *multipart.FileHeader) bool {
		return slices.Contains([]string{"customer", "boat", "component", "history", "reading"}, stem(p.Filename))
	})
}

// intakeForm asks for files, and shows what those that are held would do.
func (s pages) intakeForm(r *http.Request) (site.Response, error) {
	held := r.FormValue("held")
	if held == "" {
		_, back := s.Held.Returned()
		return site.Response{Page: "import.html", Data: &intakePage{Back: back}}, nil
	}
	p, err := s.runIntake(r, held, true)
	if err != nil {
		return site.Response{}, err
	}
	if !p.Report.Refused() {
		p.Held = held
	}
	return site.Response{Page: "import.html", Data: p}, nil
}

// intake holds files and leads to what they would do, or imports those that were
// shown.
func (s pages) intake(r *http.Request) (site.Response, error) {
	if err := r.ParseMultipartForm(8 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, fmt.Sprintf("The files could not be read: they are larger than %d MB together, or the upload was cut off.", intakeBody>>20))
	}
	if r.MultipartForm != nil {
		defer r.MultipartForm.RemoveAll()
		if parts := r.MultipartForm.File["files"]; len(parts) > 0 {
			held, err := s.Held.Hold(parts)
			to := "/import/tables?held="
			if isOurs(parts) {
				to = "/import?held="
			}
			return site.Response{To: to + held}, err
		}
	}
	if held := r.FormValue("held"); held != "" {
		return s.takeIn(r, held)
	}
	return site.Response{Page: "import.html", Code: http.StatusUnprocessableEntity, Data: &intakePage{Fault: "Choose at least one file."}}, nil
}

func (s pages) takeIn(r *http.Request, held string) (site.Response, error) {
	if s.Held.Imported(held) { // pressed twice
		return site.Response{To: "/import", Note: "These files were imported before."}, nil
	}
	p, err := s.runIntake(r, held, false)
	if err != nil {
		return site.Response{}, err
	}
	if p.Report.Refused() {
		return site.Response{Page: "import.html", Data: p, Code: http.StatusUnprocessableEntity}, nil
	}
	if err := s.Held.Done(held); err != nil {
		s.Log.WarnContext(r.Context(), "remove the files of an intake", "error", err)
	}
	var n, c, u int
	for _, f := range p.Report.Files {
		n, c, u = n+f.New, c+f.Changed, u+f.Unchanged
	}
	note := fmt.Sprintf("Imported: %s new, %d changed, %d unchanged.", words.Count(n, "row"), c, u)
	return site.Response{To: "/import", Note: note}, nil
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
