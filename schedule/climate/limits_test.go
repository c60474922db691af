package climate_test

import (
	"errors"
	"io"
	"strings"
	"testing"

	"bellbuoy/schedule/climate"
)

// endless repeats a text for ever, counting what was asked of it.
type endless struct {
	text string
	read int
}

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		n += copy(p[n:], e.text[(e.read+n)%len(e.text):])
	}
	e.read += n
	return n, nil
}

func TestEndlessFilesAreRefused(t *testing.T) {
	record := "XX000000001,20011004,PRCP,0,,,W,\n"
	for _, c := range []struct{ name, text, want string }{
		{"a line that never ends", "XX000000001,20011004,PRCP,", "longer than 1048576 bytes"},
		{"a body that never ends", record, "larger than 67108864 bytes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := &endless{text: c.text}
			_, err := climate.ReadByStation(e, climate.Options{})
			wantFault(t, err, c.want)
			if most := 65 << 20; e.read > most {
				t.Errorf("read %d bytes before refusing, want at most %d", e.read, most)
			}
		})
	}
}

var errPulled = errors.New("cable pulled")

func TestAFailingReaderIsNoFaultOfTheFile(t *testing.T) {
	for name, head := range map[string]string{
		"at once":     "",
		"half way":    "XX000000001,20011004,TMIN,-15,,,W,\n",
		"in normals":  "STATION,ANN-TMIN-PRBFST-T28FP10\nA,10/11\n",
		"in a record": "XX000000001",
	} {
		t.Run(name, func(t *testing.T) {
			for what, read := range map[string]func(io.Reader) error{
				"Read": func(r io.Reader) error { _, err := climate.Read(r, 0, climate.Options{}); return err },
				"ReadByStation": func(r io.Reader) error {
					_, err := climate.ReadByStation(r, climate.Options{Station: station})
					return err
				},
				"ReadNormals": func(r io.Reader) error { _, err := climate.ReadNormals(r, -22, climate.Options{}); return err },
			} {
				err := read(io.MultiReader(strings.NewReader(head), failing{}))
				var f *climate.Fault
				if what == "ReadNormals" && name != "in normals" && errors.As(err, &f) {
					continue // the first line is already known to be the wrong one
				}
				if !errors.Is(err, errPulled) {
					t.Errorf("%s: %v, want the reader's own error", what, err)
				}
			}
		})
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errPulled }
