package climate

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// Fault is one thing wrong with a file: where, what, and what to do.
type Fault struct {
	Line int    // counted from 1; 0 when the whole file is meant
	Text string // what is wrong, with the input quoted, and what to do
}

// Error writes "line 41: ...". The caller puts the file's name in front.
func (f *Fault) Error() string {
	if f.Line == 0 {
		return f.Text
	}
	return fmt.Sprintf("line %d: %s", f.Line, f.Text)
}

// Faults are the faults of one file in the order found, at most [maxFaults].
type Faults []*Fault

// maxFaults is where reading stops: a file with that many is the wrong file.
const maxFaults = 20

// Error writes one fault a line.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	if len(fs) == maxFaults {
		lines = append(lines, fmt.Sprintf("stopped after %d faults: is this the right file?", maxFaults))
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single faults to [errors.As].
func (fs Faults) Unwrap() []error {
	errs := make([]error, len(fs))
	for i, f := range fs {
		errs[i] = f
	}
	return errs
}

func (fs *Faults) add(line int, format string, args ...any) {
	*fs = append(*fs, &Fault{line, fmt.Sprintf(format, args...)})
}

func (fs Faults) full() bool { return len(fs) >= maxFaults }

func (fs Faults) err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs
}

// Limits on what is read. The longest station files are some 25 MB; the header
// of a normals file, with its hundreds of columns, some 100 kB.
const (
	maxBytes = 64 << 20
	maxLine  = 1 << 20
)

// guard refuses a body or a line that is longer than any real one. Cutting it
// off silently would turn the missing days into a later freeze.
type guard struct {
	r                io.Reader
	total, inLine    int64
	line             int
	maxBody, maxLine int64
}

// lineEnds has every line end with a line feed, as also some programs' that end
// them with a carriage return only.
type lineEnds struct {
	r  io.Reader
	cr bool // the last byte was a carriage return
}

// Read implements [io.Reader].
func (l *lineEnds) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	out := p[:0]
	for _, b := range p[:n] {
		second := l.cr && b == '\n'
		l.cr = b == '\r'
		switch {
		case second:
		case l.cr:
			out = append(out, '\n')
		default:
			out = append(out, b)
		}
	}
	return len(out), err
}

func newGuard(r io.Reader) *guard {
	return &guard{r: r, line: 1, maxBody: maxBytes, maxLine: maxLine}
}

// Read implements [io.Reader].
func (g *guard) Read(p []byte) (int, error) {
	n, err := g.r.Read(p)
	for rest := p[:n]; len(rest) > 0; {
		piece, after, ended := bytes.Cut(rest, []byte("\n"))
		if g.inLine += int64(len(piece)); g.inLine > g.maxLine {
			return 0, &Fault{g.line, fmt.Sprintf("longer than %d bytes: this is not a file of weather records", g.maxLine)}
		}
		if rest = after; ended {
			g.line, g.inLine = g.line+1, 0
		}
	}
	if g.total += int64(n); g.total > g.maxBody {
		return 0, &Fault{g.line, fmt.Sprintf("the file is larger than %d bytes: give the file of one station", g.maxBody)}
	}
	return n, err
}
