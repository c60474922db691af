// Package config reads the shop's own files of settings: who the shop is, where
// its boats float, who works there, how it reminds and how its mail leaves.
// It decides only whether they make sense; every fault is reported at once with
// its line. Of two files the one that a person writes wins over the one that the
// pages write (pages.go). It opens nothing but these.
package config

import (
	"bytes"
	"cmp"
	_ "embed"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
)

// Config is the shop's file. The commented text that "bellbuoy init" writes
// explains every setting.
type Config struct {
	Shop      Shop      `toml:"shop"`
	Files     Files     `toml:"files"`
	Places    []Place   `toml:"place"`
	Prices    []Price   `toml:"price"`
	Plan      Plan      `toml:"plan"`
	Weeks     Weeks     `toml:"weeks"`
	Formats   Formats   `toml:"formats"`
	Calendar  Calendar  `toml:"calendar"`
	Yard      Yard      `toml:"yard"`
	Reminders Reminders `toml:"reminders"`
	DropOff   DropOff   `toml:"drop_off"`
	Freeze    Freeze    `toml:"freeze"`
	Mail      Mail      `toml:"mail"`
	Serve     Serve     `toml:"serve"`
	Backup    Backup    `toml:"backup"`
	Lease     Lease     `toml:"lease"`

	// Renamed says which settings stand in the file under their old names.
	Renamed []string `toml:"-"`

	name    string // of the file
	main    []byte // its text, by the present names
	pages   []byte // the text of what the pages changed, nil for nothing
	dir     string // the folder of the file: relative names start here
	zone    *time.Location
	format  words.Format
	proxies []netip.Prefix
}

// Shop says who writes to the customer.
type Shop struct {
	Name     string `toml:"name"`
	Address  string `toml:"address"` // postal address, on one line
	Phone    string `toml:"phone"`
	Email    string `toml:"email"`
	URL      string `toml:"url"` // where customers reach the pages, without a closing slash
	TimeZone string `toml:"time_zone"`
	Country  string `toml:"country"`
	Currency string `toml:"currency"` // its sign; "" for the country's
	Language string `toml:"language"` // of customers with none of their own: one of [texts.Languages]
	// OwnerEmail gets the monthly report; "" for none.
	OwnerEmail string `toml:"owner_email"`
}

// Formats are choices that do not follow the country; each may be "".
type Formats struct {
	DateOrder   string `toml:"date_order"`
	Clock       string `toml:"clock"`
	Decimal     string `toml:"decimal_sign"`
	Temperature string `toml:"temperature"`
	Length      string `toml:"length"`
	Volume      string `toml:"volume"`
}

// Files names what is read and written.
type Files struct {
	Database string `toml:"database"`
	Rules    string `toml:"rules"` // the shop's own rules, "" if it has none
	Texts    string `toml:"texts"` // the shop's own phrases for emails, "" if it has none
}

// Place is where boats float.
type Place struct {
	Name   string         `toml:"name"`
	Launch civil.MonthDay `toml:"launch"`
	LayUp  civil.MonthDay `toml:"winterize_by"`
	Source string         `toml:"source"`
	// Forecast is a file, an address or coordinates; see [Config.ForecastSource].
	Forecast   string         `toml:"forecast"`
	YardOffset float64        `toml:"yard_offset_c"` // by how much the boats lie colder than the forecast's point, °C
	ColdWater  civil.MonthDay `toml:"cold_water"`    // the water is usually under 4 °C from then on
}

// Price is what the shop asks for a job of the catalog, in whole units of the
// currency, labor and parts together, before tax.
type Price struct {
	Rule   string  `toml:"rule"`
	Amount float64 `toml:"amount"`
}

// Cents is the amount.
func (p Price) Cents() measure.Cents { return measure.Cents(math.Round(p.Amount * 100)) }

// Plan shapes the planner.
type Plan struct {
	Percentile  float64 `toml:"percentile"`
	HorizonDays int     `toml:"horizon_days"`
	// LayUpOilHours is how long oil must have run to be changed with the lay-up.
	LayUpOilHours float64 `toml:"winterization_oil_hours"`
}

// Weeks says what the shop can do in a week.
type Weeks struct {
	Technicians []Technician `toml:"technician"`
	Allowance   float64      `toml:"allowance"` // share of clocked time that is available for visits
	Target      float64      `toml:"target"`    // share of the available time to which weeks are filled
	// LayUpFirst is how many weeks before its deadline a lay-up comes at the
	// earliest while the target can hold, LayUpMargin how many it best comes.
	LayUpFirst  int         `toml:"winterization_first_weeks"`
	LayUpMargin int         `toml:"winterization_margin_weeks"`
	Holidays    []civil.Day `toml:"holidays"`
	Calendar    string      `toml:"holiday_calendar"` // "us", "ca" or ""
}

// Yard says what the yard can do beside the technicians. What it leaves out limits
// nothing.
type Yard struct {
	CrewHours []float64           `toml:"crew_hours"` // of all together, Monday to Sunday
	Lifts     []int               `toml:"lifts"`      // boats hauled or launched, Monday to Sunday
	Work      []schedule.YardWork `toml:"work"`
}

// Technician is one pair of hands.
type Technician struct {
	Name  string    `toml:"name"`
	Hours []float64 `toml:"hours"` // Monday to Sunday
}

// Calendar is what customers' calendars are told.
type Calendar struct {
	// Appointment is how a booked day gets into a customer's calendar; see the
	// constants.
	Appointment   string `toml:"appointment"`
	BookedDayBusy bool   `toml:"booked_day_busy"`
}

// What [Calendar.Appointment] may say; "" is the invitation where returned mail is
// read, since some calendars reply to it, and else the file.
const (
	AppointmentNone       = "none"
	AppointmentFile       = "file"
	AppointmentInvitation = "invitation"
)

// Appointment is how a booked day gets into customers' calendars.
func (c *Config) Appointment() string {
	switch {
	case c.Calendar.Appointment != "":
		return c.Calendar.Appointment
	case c.Mail.BounceDomain != "" || c.Mail.IMAP.Server != "":
		return AppointmentInvitation
	}
	return AppointmentFile
}

// Reminders are the steps of telling a customer about a visit.
type Reminders struct {
	InvitationDays int    `toml:"first_reminder_days"`  // before the visit's day
	NudgeDays      int    `toml:"second_reminder_days"` // before the visit's day
	LastCallDays   int    `toml:"final_reminder_days"`  // before the deadline
	OverdueDays    int    `toml:"overdue_notice_days"`  // after the deadline
	GapDays        int    `toml:"gap_days"`             // least days between two reminders to one customer
	DailyCap       int    `toml:"daily_limit"`
	From           string `toml:"from_hour"` // "09:00"
	Until          string `toml:"until_hour"`
	YearlyCap      int    `toml:"yearly_limit"`      // most reminders to one customer in a calendar year, 0 for no limit; the rest is for a call
	SilentSeasons  int    `toml:"no_reply_seasons"`  // with reminders and without a reply: then the customer is called; 0 never
	LeastNotice    int    `toml:"least_notice_days"` // working days between a reminder and the last day that can be booked in time
	// PartsToOrder are codes of parts that the shop orders for a visit; a visit that uses
	// one needs PartsNotice working days, if that is more.
	PartsToOrder []string `toml:"parts_to_order"`
	PartsNotice  int      `toml:"parts_notice_days"`
	// SmallVisit: a visit that costs less, in whole currency, has no second reminder.
	SmallVisit float64 `toml:"small_visit"`
	// DayPassedDays is for how many days after it a booked day holds its visit
	// although no work is recorded.
	DayPassedDays int `toml:"day_passed_days"`

	Saturdays      bool `toml:"saturdays"`
	Summaries      bool `toml:"after_visit"` // a mail after each visit
	HoldOutPercent int  `toml:"comparison_percent"`
}

// DropOff is what a customer who booked is told about bringing the boat.
type DropOff struct {
	From  string `toml:"from_hour"` // "08:00"; both "" for no set time
	Until string `toml:"until_hour"`
	// Times are those of which a customer chooses one with the day, "08:00", rising;
	// none where only the day is chosen.
	Times   []string `toml:"times"`
	AtOnce  int      `toml:"boats_at_once"` // as many boats at each of the times
	Map     string   `toml:"map"`           // the address of a map, "" for none
	Contact string   `toml:"contact"`       // whom to call, "" for shop.phone
	// Words say in English how the boat comes and what comes with it, by where it is
	// kept, one of [schedule.Berths], in place of what is built in; "" for nothing.
	Words map[string]string `toml:"words"`
}

// Window is from when until when boats are dropped off, in minutes of the day;
// the same twice where the shop has no set time.
func (d *DropOff) Window() (from, until int) { return minuteOf(d.From), minuteOf(d.Until) }

// Hours are the drop-off times in minutes of the day.
func (d *DropOff) Hours() []int {
	hours := make([]int, len(d.Times))
	for i, t := range d.Times {
		hours[i] = minuteOf(t)
	}
	return hours
}

// minuteOf reads "08:00", which has been checked, as a minute of the day.
func minuteOf(s string) int {
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0
	}
	return t.Hour()*60 + t.Minute()
}

// faults says what makes no sense.
func (d *DropOff) faults(fault faulter) {
	if from, until := d.Window(); (d.From == "") != (d.Until == "") || d.From != "" && until <= from {
		fault("drop_off", "from_hour %q, until_hour %q: want two times of day such as 08:00 and 09:30, the first before the second, or neither", d.From, d.Until)
	}
	for i, at := range d.Times {
		if _, err := time.Parse("15:04", at); err != nil || len(at) != len("08:00") || i > 0 && at <= d.Times[i-1] {
			fault("drop_off.times", "%q: want times of day such as 08:00, the earlier first", at)
		}
	}
	if d.AtOnce < 1 {
		fault("drop_off.boats_at_once", "%d: want at least one boat", d.AtOnce)
	}
	if u, err := url.Parse(d.Map); d.Map != "" && (err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http") {
		fault("drop_off.map", "%q: want the address of a map, such as https://maps.example.com/our-dock", d.Map)
	}
	for berth := range d.Words {
		if !slices.Contains(schedule.Berths, berth) {
			fault("drop_off.words", "%q: want one of %s", berth, strings.Join(schedule.Berths, ", "))
		}
	}
}

// Mail is how emails leave the shop.
type Mail struct {
	From         string `toml:"from"`
	ReplyTo      string `toml:"reply_to"`
	Server       string `toml:"server"` // host:port, "" for none
	Security     string `toml:"security"`
	User         string `toml:"user"`
	PasswordFile string `toml:"password_file"`
	Auth         string `toml:"auth"`
	Hello        string `toml:"hello"`
	BounceDomain string `toml:"bounce_domain"` // "" to let the server choose the return path
	DKIMDomain   string `toml:"dkim_domain"`
	DKIMSelector string `toml:"dkim_selector"`
	DKIMKeyFile  string `toml:"dkim_key_file"`
	PerMinute    int    `toml:"per_minute"` // 0 for no limit
	IMAP         IMAP   `toml:"imap"`
}

// IMAP is the mailbox that bounces come to.
type IMAP struct {
	Server       string `toml:"server"` // host:port, "" for none
	Security     string `toml:"security"`
	User         string `toml:"user"`
	PasswordFile string `toml:"password_file"`
	Auth         string `toml:"auth"`
	Folder       string `toml:"folder"`
}

// Serve is the HTTP side.
type Serve struct {
	Listen string `toml:"listen"`
	// Proxies are the addresses or networks of those who may say for whom they
	// speak.
	Proxies []string `toml:"proxies"`
	// LogLevel is from which level on the log has lines; "" is info.
	LogLevel string `toml:"log_level"`
}

// Level is the log's level.
func (s *Serve) Level() (level slog.Level) {
	level.UnmarshalText([]byte(cmp.Or(s.LogLevel, "info"))) // checked when the settings were read
	return level
}

// Backup is how the daemon keeps copies of the database.
type Backup struct {
	Folder  string `toml:"folder"` // "" for none
	Hour    string `toml:"hour"`   // "02:30", by the shop's clock
	Daily   int    `toml:"keep_daily"`
	Weekly  int    `toml:"keep_weekly"`
	Monthly int    `toml:"keep_monthly"`
	MostMB  int    `toml:"most_mb"` // all copies together; 0 for no limit
}

// Lease is what two machines that have the shop ask for which of them may send; see
// package lease.
type Lease struct {
	Object   string `toml:"object"` // its address in S3-compatible storage, "" for none
	Region   string `toml:"region"`
	KeysFile string `toml:"keys_file"` // the access key on its first line, the secret on its second
}

// Template is the commented file that "bellbuoy init" writes.
//
//go:embed bellbuoy.toml
var Template []byte

// Load reads a settings file and, after it, what the pages changed: see [PagesFile].
func Load(path string) (*Config, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("settings %q: no such file; make one with \"bellbuoy init\" or name yours with --config", path)
	}
	if err != nil {
		return nil, fmt.Errorf("settings %q: %w", path, err)
	}
	c, err := decode(path, data)
	if err != nil {
		return nil, err
	}
	pages := c.PagesFile()
	own, err := os.ReadFile(pages)
	if sameFile(path, pages) || errors.Is(err, os.ErrNotExist) {
		own, err = nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("settings %q: %w", pages, err)
	}
	n, err := c.With(own)
	if err != nil && own != nil {
		if _, alone := c.With(nil); alone == nil {
			err = &PagesFault{pages, err}
		}
	}
	return n, err
}

// decode reads the text of a settings file and does not check what it says; name is
// for messages and for the folder that relative file names start from.
func decode(name string, data []byte) (*Config, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff")) // some editors begin a file with a byte-order mark
	data, renamed := rename(filepath.Base(name), data)
	c := &Config{name: name, main: data, Renamed: renamed}
	return c, c.take(name, data)
}

// take sets the usual values and, over them, those of a text.
func (c *Config) take(name string, data []byte) error {
	c.dir = filepath.Dir(c.name)
	if err := toml.Unmarshal(Template, c); err != nil {
		return fmt.Errorf("settings template: %w", err)
	}
	c.Places, c.Weeks.Technicians, c.Weeks.Holidays = nil, nil, nil
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(c); err != nil {
		return describe(name, err)
	}
	return nil
}

// describe puts file and line before a TOML fault.
func describe(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var all []error
		for _, e := range strict.Errors {
			row, _ := e.Position()
			all = append(all, fmt.Errorf("%s:%d: %s: no such setting; \"bellbuoy init\" writes a file with all of them", name, row, strings.Join(e.Key(), ".")))
		}
		return errors.Join(all...)
	}
	var one *toml.DecodeError
	if errors.As(err, &one) {
		row, _ := one.Position()
		return fmt.Errorf("%s:%d: %s: %s", name, row, strings.Join(one.Key(), "."), plainFault(one.Error()))
	}
	return fmt.Errorf("%s: %w", name, err)
}

// wrongKind is how the reader says that a value is of another kind than the
// setting, in the words of our types.
var wrongKind = regexp.MustCompile(`^cannot decode TOML (.+) into .* of type \S+$`)

// plainFault words a fault of the file for whoever wrote it.
func plainFault(s string) string {
	s = strings.TrimPrefix(s, "toml: ")
	m := wrongKind.FindStringSubmatch(s)
	if m == nil {
		return s
	}
	return fmt.Sprintf("a value of the kind \"%s\" does not belong here; \"bellbuoy init\" in an empty folder writes a file that shows what does", m[1])
}

// Proxy reports whether an address is that of a proxy of the settings. IPv4 must
// not be written as IPv6.
func (c *Config) Proxy(a netip.Addr) bool {
	return slices.ContainsFunc(c.proxies, func(p netip.Prefix) bool { return p.Contains(a) })
}

// PhoneRegion is the country (ISO 3166) whose phone numbers the shop writes without
// a country code: that of its holidays, if its clock goes there; "" if nothing
// tells.
func (c *Config) PhoneRegion() string {
	if !strings.HasPrefix(c.Shop.TimeZone, "America/") && c.Shop.TimeZone != "Pacific/Honolulu" {
		return ""
	}
	return strings.ToUpper(c.Weeks.Calendar)
}

// Zone is the shop's time zone.
func (c *Config) Zone() *time.Location { return c.zone }

// Format writes days, times, amounts and measures as the shop's readers expect.
func (c *Config) Format() words.Format { return c.format }

// Path resolves a file name of the settings against their own folder.
func (c *Config) Path(name string) string {
	if name == "" || filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(c.dir, name)
}

// Place returns the place of that name; a boat at an unknown place has no
// season, and the check command says so.
func (c *Config) Place(name string) schedule.Place {
	for _, p := range c.Places {
		if p.Name == name {
			return schedule.Place{Name: p.Name, Launch: p.Launch, LayUp: p.LayUp, Source: p.Source, ColdWater: p.ColdWater}
		}
	}
	return schedule.Place{Name: name}
}

// PlaceNames lists the places in the file's order.
func (c *Config) PlaceNames() []string {
	names := make([]string, len(c.Places))
	for i, p := range c.Places {
		names[i] = p.Name
	}
	return names
}

// Settings are the planner's.
func (c *Config) Settings() schedule.Settings {
	return schedule.Settings{Percentile: c.Plan.Percentile, HorizonDays: c.Plan.HorizonDays, LayUpOilHours: c.Plan.LayUpOilHours, Format: c.format,
		Yard: schedule.Yard{Crew: len(c.Yard.CrewHours) > 0, Lifts: len(c.Yard.Lifts) > 0, Work: c.Yard.Work}}
}
