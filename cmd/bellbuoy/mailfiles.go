package main

import (
	"context"
	"fmt"
	"html/template"
	"os"
	"path/filepath"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// previewFile is one line of the index of mails written as files.
type previewFile struct {
	Name    string
	Day     civil.Day
	Step    schedule.Step
	To      string
	Subject string
}

var previewIndex = template.Must(template.New("index").Parse(`<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><meta name="color-scheme" content="light dark">
<title>What would go out</title>
<style>body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem}td{padding:.2rem 1rem .2rem 0;border-top:1px solid #8886;vertical-align:top}table{border-collapse:collapse}</style>
<h1>What would go out</h1>
<p>{{len .}} emails, nothing was sent.</p>
<table>{{range .}}
<tr><td>{{.Day}}<td>{{.Step}}<td>{{.To}}<td><a href="{{.Name}}.html">{{.Subject}}</a><td><a href="{{.Name}}.txt">text</a> <a href="{{.Name}}.eml">whole</a>{{end}}
</table>
</html>
`))

// writePreview writes every mail of a rehearsal as three files, and a page that
// lists them. It returns how many mails there were.
func writePreview(ctx context.Context, h *app.App, days []notify.Rehearsal, dir string) (int, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return 0, fmt.Errorf("preview: %w", err)
	}
	var index []previewFile
	for _, d := range days {
		for i := range d.Notices {
			n := &d.Notices[i]
			f := previewFile{
				Name: fmt.Sprintf("%04d-%s-%s", len(index)+1, d.Day, n.Step),
				Day:  d.Day, Step: n.Step, To: n.Customer.Name,
			}
			if err := writeMail(ctx, h, n, dir, &f); err != nil {
				return len(index), err
			}
			index = append(index, f)
		}
	}
	out, err := os.Create(filepath.Join(dir, "index.html"))
	if err != nil {
		return len(index), fmt.Errorf("preview: %w", err)
	}
	if err := previewIndex.Execute(out, index); err != nil {
		out.Close()
		return len(index), fmt.Errorf("preview: %w", err)
	}
	return len(index), out.Close()
}

// writeMail writes one mail and completes its line of the index.
func writeMail(ctx context.Context, h *app.App, n *notify.Notice, dir string, f *previewFile) error {
	l, err := h.Message(ctx, n)
	if err != nil {
		return err
	}
	text, html, err := h.Bodies(ctx, n)
	if err != nil {
		return err
	}
	f.Subject = l.Subject
	for ext, data := range map[string][]byte{".eml": l.Raw, ".txt": []byte(text), ".html": []byte(html)} {
		if err := os.WriteFile(filepath.Join(dir, f.Name+ext), data, 0o644); err != nil {
			return fmt.Errorf("preview: %w", err)
		}
	}
	return nil
}
