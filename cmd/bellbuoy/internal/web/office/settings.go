package office

import (
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// errand is one page of settings.
type errand struct {
	Name, Title, Lead string
	// Block is the kind of block that the page lists, and One what one of them is.
	Block, One string
}

func errands() []errand {
	return []errand{
		{"shop", "The shop", "Who the shop is, as pages, emails and calendars say it.", "", ""},
		{"weeks", "Hours and weeks", "What the technicians can do in a week, and how far the plan fills it.", "weeks.technician", "technician"},
		{"closed", "Holidays and closed days", "When nobody works.", "", ""},
		{"places", "Places", "Where boats float, when they are wanted there, and by when they must be winterized.", "place", "place"},
		{"yard", "The yard", "What the yard crew and the lift can do beside the technicians. Left empty it limits nothing.", "yard.work", "row"},
		{"prices", "Prices", "What the shop asks for a job where it is not what the catalog says.", "price", "price"},
		{"reminders", "Reminders", "Which emails customers get, when, and how many.", "", ""},
		{"drop-off", "Bringing the boat", "What the email that confirms a booking says about bringing the boat, and what goes into the customer's calendar.", "", ""},
		{"freeze", "Freeze watch", "What a night of the forecast is worth. A place that names no forecast has no freeze watch.", "", ""},
		{"planning", "Planning", "How work that falls due by hours is planned.", "", ""},
		{"formats", "Formats", "How days, times, amounts and measures are written.", "", ""},
	}
}

func errandOf(name string) (errand, bool) {
	all := errands()
	i := slices.IndexFunc(all, func(e errand) bool { return e.Name == name })
	if i < 0 {
		return errand{}, false
	}
	return all[i], true
}

// settingsList is the page that leads to the others.
type settingsList struct {
	Errands []struct {
		errand
		Fixed, Changed int // settings that a person wrote, and that pages changed
	}
	Main, Pages string // the two files
	Broken      string
}

func (s pages) settings(*http.Request) (site.Response, error) {
	c, broken := s.filed()
	w, err := c.Written()
	if err != nil {
		return site.Response{}, err
	}
	p := settingsList{Main: filepath.Base(c.Name()), Pages: c.PagesFile(), Broken: broken}
	for _, e := range errands() {
		p.Errands = append(p.Errands, struct {
			errand
			Fixed, Changed int
		}{errand: e})
		last := &p.Errands[len(p.Errands)-1]
		for _, of := range config.Settings() {
			if of.Page != e.Name {
				continue
			}
			for _, addr := range of.Addresses(w.Values) {
				switch w.Origins[addr].File {
				case "":
				case p.Main:
					last.Fixed++
				default:
					last.Changed++
				}
			}
		}
	}
	return site.Response{Page: "settings.html", Data: &p}, nil
}

// filed are the settings as the files have them now; those in force if the files
// cannot be taken, and why.
func (s pages) filed() (c *config.Config, broken string) {
	c, err := config.Load(s.App.Config.Name())
	if err != nil {
		return s.App.Config, err.Error()
	}
	return c, ""
}

// settingsPage is a form with the settings of an errand.
type settingsPage struct {
	errand
	Errands []errand
	Rows    []settingRow
	Blocks  []settingBlock
	Means   []settingRow // what the settings of a block do
	Form    string
	Seen    string // what the form was made for
	Fault   string
	Broken  string // why the files cannot be taken
	Waits   bool   // the files say something else than the daemon goes by
	Cannot  string // why pages can change nothing
	Sample  []sample
}

// settingRow is one setting in the form.
type settingRow struct {
	config.Setting
	Name   string // of the field
	ID     string // of the field, for its label
	DoesID string // of what says what it does
	Input  string // how it is asked for
	Label  string // what it is read out as, if not its title
	Value  string
	Each   []dayFigure // of a week
	Words  string      // the value as people read it
	Fixed  string      // where it is written, if a person did
	From   string      // where it comes from, in a sentence
}

// dayFigure is the figure of a day of the week.
type dayFigure struct{ Day, Value string }

// settingBlock is one of several of a kind.
type settingBlock struct {
	At     int
	Name   string
	Title  string
	Fixed  bool // a person wrote some of it
	Kind   string
	Rows   []settingRow
	Remove string // the field that takes it away, "" for one that cannot be
}

func (s pages) settingsForm(r *http.Request) (site.Response, error) { return s.settingsAgain(r, nil) }

// settingsAgain shows the form of an errand, with why it was refused.
func (s pages) settingsAgain(r *http.Request, refused site.Refusals) (site.Response, error) {
	e, ok := errandOf(r.PathValue("page"))
	if !ok {
		return site.Response{}, site.NotFound("There are no settings of that name.")
	}
	c, broken := s.filed()
	w, err := c.Written()
	if err != nil {
		return site.Response{}, err
	}
	running, err := s.App.Config.Written()
	if err != nil {
		return site.Response{}, err
	}
	p := settingsPage{errand: e, Errands: errands(), Form: site.NewForm(), Seen: seenSettings(w, e), Fault: refused.Words(), Broken: broken,
		Waits: broken == "" && len(running.Differences(w)) > 0, Cannot: c.CanChange()}
	files := writtenIn{w, filepath.Base(c.Name())}
	for _, of := range config.Settings() {
		if of.Page == e.Name && of.Block == "" {
			p.Rows = append(p.Rows, s.settingRow(files, of, of.Key, of.Key))
		}
	}
	if e.Block != "" {
		p.Blocks = s.settingBlocks(files, e)
		for _, row := range p.Blocks[0].Rows {
			if row.Does != "" {
				p.Means = append(p.Means, row)
			}
		}
	}
	if e.Name == "formats" {
		if r.Method == http.MethodGet && r.FormValue("look") != "" {
			for i := range p.Rows {
				if row := &p.Rows[i]; row.Fixed == "" {
					row.Value = r.FormValue(row.Name)
				}
			}
		}
		p.Sample = s.samples(p.Rows)
	}
	return site.Response{Page: "settings-form.html", Data: &p, Refused: refused}, nil
}

// writtenIn are values, with the name of the file that a person writes.
type writtenIn struct {
	*config.Written
	main string
}

// fixed says where a person wrote a value, "" if nobody did.
func (w writtenIn) fixed(addr string) string {
	if o := w.Origins[addr]; o.File == w.main {
		return o.String()
	}
	return ""
}

// seenSettings is a short name for all values of an errand.
func seenSettings(w *config.Written, e errand) string {
	var all []string
	for _, of := range config.Settings() {
		if of.Page != e.Name {
			continue
		}
		for _, addr := range of.Addresses(w.Values) {
			all = append(all, fmt.Sprintf("%s %v %s", addr, w.Values[addr], w.Origins[addr].File))
		}
	}
	return site.Seen(all)
}

// settingRow is a setting with its present value.
func (s pages) settingRow(w writtenIn, of config.Setting, addr, name string) settingRow {
	v := w.Values[addr]
	row := settingRow{Setting: of, Name: name, Label: of.Title, ID: strings.ReplaceAll(name, ".", "-"), DoesID: strings.ReplaceAll(of.Key, ".", "-") + "-does", Input: inputOf(of.Kind), Value: fieldValue(of.Kind, v), Words: s.SettingWords(&of, v), Fixed: w.fixed(addr)}
	if of.Kind == config.WeekHours || of.Kind == config.WeekCounts {
		row.Each = weekFigures(v)
	}
	switch usual := s.SettingWords(&of, w.Usual[addr]); {
	case row.Fixed != "":
		row.From = "Set in " + row.Fixed + ": change it there."
	case of.Block != "":
	case w.Origins[addr].File == "":
		row.From = "The usual value."
	case usual != "":
		row.From = "Changed here; usual is " + usual + "."
	default:
		row.From = "Changed here."
	}
	return row
}

// inputOf is how the form asks for a kind of value.
func inputOf(kind config.Kind) string {
	switch kind {
	case config.Prose, config.Days, config.Clocks, config.Codes:
		return "lines"
	case config.Whole, config.Decimal:
		return "number"
	case config.Share:
		return "percent"
	case config.Switch:
		return "switch"
	case config.OneOf:
		return "choice"
	case config.Clock:
		return "time"
	case config.MonthDay:
		return "month-day"
	case config.WeekHours, config.WeekCounts:
		return "week"
	}
	return "text"
}

// settingBlocks are the blocks of an errand, and an empty one to fill in.
func (s pages) settingBlocks(w writtenIn, e errand) []settingBlock {
	var out []settingBlock
	for i, name := range append(slices.Clone(w.Blocks[e.Block]), "") {
		b := settingBlock{At: i, Name: name, Kind: e.Block, Title: "Another " + e.One}
		at := fmt.Sprintf("%s.%d.", e.Block, i)
		if i < len(w.Blocks[e.Block]) {
			b.Title, b.Remove = name, at+"remove"
		}
		var named []string
		for _, of := range config.Settings() {
			if of.Block != e.Block {
				continue
			}
			key := strings.TrimPrefix(of.Key, e.Block+".")
			addr := ""
			if b.Remove != "" {
				addr = config.Address(e.Block, name, key)
			}
			row := s.settingRow(w, of, addr, at+key)
			row.Label = of.Title + ", " + b.Title
			b.Fixed = b.Fixed || row.Fixed != ""
			if key == "berth" || key == "kind" {
				named = append(named, row.Words)
			}
			b.Rows = append(b.Rows, row)
		}
		if e.Block == "yard.work" && b.Remove != "" {
			b.Title = "Kept: " + emptyAs(named[0], "anywhere") + "; kind: " + emptyAs(named[1], "any")
		}
		out = append(out, b)
	}
	return out
}

func emptyAs(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// changeSettings saves the form of an errand. Two people who have one open at once
// do not overwrite each other: the second is shown what stands by then.
func (s pages) changeSettings(r *http.Request) (site.Response, error) {
	e, ok := errandOf(r.PathValue("page"))
	if !ok {
		return site.Response{}, site.NotFound("There are no settings of that name.")
	}
	to := "/settings/" + e.Name
	if s.Adopt == nil {
		return s.settingsAgain(r, site.Refusals{site.At("", "This program runs without its settings files, so that nothing can be saved.")})
	}
	did, err := s.App.ChangeSettings(r.Context(), s.Now(), app.SettingsEdit{Actor: site.Actor(r), Form: r.PostFormValue("form"),
		Of: func(c *config.Config) (config.Edit, error) { return s.settingsEdit(r, e, c) }}, s.Adopt)
	var faults config.Faults
	var file *fs.PathError
	switch {
	case errors.Is(err, store.ErrSent):
		return site.Response{To: to, Note: "This was saved before."}, nil
	case errors.As(err, &faults):
		return s.settingsAgain(r, refusedSettings(faults))
	case errors.As(err, &file):
		s.Log.ErrorContext(r.Context(), "settings not saved", "error", err)
		return s.settingsAgain(r, site.Refusals{site.At("", "The settings could not be saved: "+words.OneLine(file.Error())+".")})
	}
	if all, ok := site.Refused(err); ok {
		return s.settingsAgain(r, all)
	}
	if err != nil {
		if _, broken := s.filed(); broken != "" { // the page says what is wrong with them
			return s.settingsAgain(r, site.Refusals{site.At("", "Nothing was saved: the settings files have a fault, and the shop goes on by what it read before.")})
		}
		return site.Response{}, err
	}
	if did.Settings == 0 {
		return site.Response{To: to, Note: "Nothing was changed."}, nil
	}
	note := "Saved: " + words.Plural(did.Settings, "setting", "settings") + " changed, and in use at once."
	if did.Boats > 0 {
		note += " " + words.Plural(did.Boats, "boat was", "boats were") + " planned again."
	}
	return site.Response{To: to, Note: s.Also(note, &did.Change)}, nil
}
