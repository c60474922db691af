package config

import (
	"fmt"
	"math"
	"net"
	"net/mail"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// faulter notes what is wrong with a setting.
type faulter = func(field, format string, args ...any)

// validate checks what a single value cannot show. Comparisons are written so that
// "nan", which TOML has, is never within a range.
func (c *Config) validate() error {
	var faults Faults
	fault := func(field, format string, args ...any) {
		faults = append(faults, Fault{Field: field, Words: fmt.Sprintf(format, args...)})
	}
	for _, check := range []func(faulter){c.checkShop, c.checkMail, c.checkReminders, c.checkPlan, c.checkPlaces, c.checkPrices, c.checkTechnicians,
		c.checkServe, c.checkHours, c.checkFreeze, c.checkYard, c.DropOff.faults, c.Lease.faults} {
		check(fault)
	}
	if b := c.Backup; b.Daily < 1 || b.Weekly < 0 || b.Monthly < 0 || b.MostMB < 0 {
		fault("backup", "keep_daily %d, keep_weekly %d, keep_monthly %d: want at least one day and nothing below 0", b.Daily, b.Weekly, b.Monthly)
	}
	if len(faults) == 0 {
		return nil
	}
	slices.SortFunc(faults, func(a, b Fault) int { return strings.Compare(a.Error(), b.Error()) })
	return faults
}

// Fault is what is wrong with a setting, or with several of a section.
type Fault struct {
	Field string // "reminders.gap_days", "reminders"
	Words string
	At    Origin // where it was written, if there are two files
}

func (f Fault) Error() string { return f.Field + ": " + f.Words }

// Faults are all that is wrong.
type Faults []Fault

func (all Faults) Error() string {
	var lines []string
	for _, f := range all {
		at := ""
		if f.At.Line != 0 {
			at = fmt.Sprintf("%s:%d: ", f.At.File, f.At.Line)
		}
		lines = append(lines, at+f.Error())
	}
	return strings.Join(lines, "\n")
}

func (c *Config) checkShop(fault faulter) {
	zone, err := time.LoadLocation(c.Shop.TimeZone)
	if err != nil || c.Shop.TimeZone == "" || c.Shop.TimeZone == "Local" { // that would be the machine's
		fault("shop.time_zone", "%q is not a time zone; want a name such as America/New_York", c.Shop.TimeZone)
	}
	c.zone = zone
	if c.format, err = words.New(words.Choices{
		Country: c.Shop.Country, Currency: c.Shop.Currency,
		DateOrder: c.Formats.DateOrder, Clock: c.Formats.Clock, Decimal: c.Formats.Decimal,
		Temperature: c.Formats.Temperature, Length: c.Formats.Length, Volume: c.Formats.Volume,
	}); err != nil {
		fault("shop, formats", "%s", words.OneLine(err.Error()))
	}
	if !slices.Contains(texts.Languages(), c.Shop.Language) {
		fault("shop.language", "%q: want one of %s", c.Shop.Language, strings.Join(texts.Languages(), ", "))
	}
	if strings.TrimSpace(c.Shop.Name) == "" {
		fault("shop.name", "missing; customers must see who writes to them")
	}
	if u, err := url.Parse(c.Shop.URL); err != nil || u.Host == "" || u.User != nil || (u.Scheme != "http" && u.Scheme != "https") || strings.HasSuffix(c.Shop.URL, "/") {
		fault("shop.url", "%q: want the pages' address without a password and a closing slash, for example https://service.example.com", c.Shop.URL)
	}
	for field, v := range map[string]string{"mail.from": c.Mail.From, "mail.reply_to": c.Mail.ReplyTo, "shop.owner_email": c.Shop.OwnerEmail} {
		if v != "" {
			if _, err := mail.ParseAddress(v); err != nil {
				fault(field, "%q is not an email address", v)
			}
		}
	}
	if !slices.Contains([]string{"", AppointmentNone, AppointmentFile, AppointmentInvitation}, c.Calendar.Appointment) {
		fault("calendar.appointment", "%q: want none, file, invitation or nothing", c.Calendar.Appointment)
	}
}

func (c *Config) checkMail(fault faulter) {
	if !slices.Contains([]string{"starttls", "tls", "none"}, c.Mail.Security) {
		fault("mail.security", "%q: want starttls, tls or none", c.Mail.Security)
	}
	if !slices.Contains([]string{"starttls", "tls", "none"}, c.Mail.IMAP.Security) {
		fault("mail.imap.security", "%q: want starttls, tls or none", c.Mail.IMAP.Security)
	}
	if !slices.Contains([]string{"password", "xoauth2"}, c.Mail.IMAP.Auth) {
		fault("mail.imap.auth", "%q: want password or xoauth2", c.Mail.IMAP.Auth)
	}
	if !slices.Contains([]string{"", "plain", "login", "xoauth2"}, c.Mail.Auth) {
		fault("mail.auth", "%q: want plain, login, xoauth2 or nothing", c.Mail.Auth)
	}
	if c.Mail.PerMinute < 0 {
		fault("mail.per_minute", "%d: want a number of emails, or 0 for no limit", c.Mail.PerMinute)
	}
	for field, v := range map[string]string{"mail.server": c.Mail.Server, "mail.imap.server": c.Mail.IMAP.Server} {
		if _, port, err := net.SplitHostPort(v); v != "" && (err != nil || port == "" || strings.ContainsAny(v, "/@")) {
			fault(field, "%q: want a host and a port, such as mail.example.com:587; the name and the password have settings of their own", v)
		}
	}
}

// mostHeldOut is how many customers in a hundred may be left without a second
// reminder: with half of them a comparison is as sharp as it can be.
const mostHeldOut = 50

func (c *Config) checkReminders(fault faulter) {
	r := &c.Reminders
	if p := r.HoldOutPercent; p < 0 || p > mostHeldOut {
		fault("reminders.comparison_percent", "%d: want 0 for none, or up to %d", p, mostHeldOut)
	}
	if n := r.DayPassedDays; n < 0 || n > 60 {
		fault("reminders.day_passed_days", "%d: want 0 to 60 days", n)
	}
	if r.GapDays < 7 || r.GapDays > 60 {
		fault("reminders.gap_days", "%d: want 7 to 60 days", r.GapDays)
	}
	if r.YearlyCap < 0 || r.YearlyCap > 50 || r.SilentSeasons < 0 || r.SilentSeasons > 20 || r.LeastNotice < 0 || r.LeastNotice > 20 {
		fault("reminders", "yearly_limit %d, no_reply_seasons %d, least_notice_days %d: want up to 50 reminders, 20 seasons and 20 working days, 0 for no limit",
			r.YearlyCap, r.SilentSeasons, r.LeastNotice)
	}
	if n := r.PartsNotice; n < 0 || n > 60 {
		fault("reminders.parts_notice_days", "%d: want 0 to 60 working days", n)
	}
	if v := r.SmallVisit; !(v >= 0 && v < 1e6) {
		fault("reminders.small_visit", "%g: want an amount such as 150, or 0 for none", v)
	}
	if r.DailyCap < 1 {
		fault("reminders.daily_limit", "%d: want at least one email a day; \"bellbuoy mail off\" stops them all", r.DailyCap)
	}
	for field, days := range map[string]int{"first_reminder_days": r.InvitationDays, "second_reminder_days": r.NudgeDays,
		"final_reminder_days": r.LastCallDays, "overdue_notice_days": r.OverdueDays} {
		if days < 0 || days > 365 {
			fault("reminders."+field, "%d: want 0 to 365 days", days)
		}
	}
}

func (c *Config) checkPlan(fault faulter) {
	if p := c.Plan.Percentile; !(p > 0 && p < 1) {
		fault("plan.percentile", "%g: want a chance between 0 and 1, for example 0.25", p)
	}
	if h := c.Plan.HorizonDays; h < 200 || h > 1500 {
		fault("plan.horizon_days", "%d: want 200 to 1500 days", h)
	}
	if h := c.Plan.LayUpOilHours; !(h >= 0 && h <= 1000) {
		fault("plan.winterization_oil_hours", "%g: want 0 to 1000 hours", h)
	}
	if a := c.Weeks.Allowance; !(a > 0 && a <= 1) {
		fault("weeks.allowance", "%g: want a share between 0 and 1, for example 0.8", a)
	}
	if t := c.Weeks.Target; !(t > 0 && t <= 1) {
		fault("weeks.target", "%g: want a share of the available hours between 0 and 1, for example 0.85", t)
	}
	if w := c.Weeks; w.LayUpMargin < 0 || w.LayUpFirst < w.LayUpMargin || w.LayUpFirst > 26 {
		fault("weeks", "winterization_first_weeks %d, winterization_margin_weeks %d: want weeks before the deadline, the first not less than the margin and 26 at the most", w.LayUpFirst, w.LayUpMargin)
	}
	if _, known := holidayCalendars()[c.Weeks.Calendar]; !known {
		fault("weeks.holiday_calendar", "%q: want us, ca or nothing", c.Weeks.Calendar)
	}
}

func (c *Config) checkPlaces(fault faulter) {
	seen := make(map[string]bool)
	for i, p := range c.Places {
		at := fmt.Sprintf("place %d (%q)", i+1, p.Name)
		switch {
		case p.Name == "":
			fault(at, "name missing")
		case seen[p.Name]:
			fault(at, "named twice")
		case !p.LayUp.IsZero() && p.Launch.IsZero():
			fault(at, "winterize_by without launch; a place that freezes needs both")
		}
		seen[p.Name] = true
	}
}

// checkPrices leaves it to the catalog whether there is such a job.
func (c *Config) checkPrices(fault faulter) {
	seen := make(map[string]bool)
	for i, p := range c.Prices {
		at := fmt.Sprintf("price %d (%q)", i+1, p.Rule)
		switch {
		case p.Rule == "":
			fault(at, "rule missing; \"bellbuoy rules list\" has the codes")
		case seen[p.Rule]:
			fault(at, "priced twice")
		case !(p.Amount > 0 && p.Amount < 1e6) || math.Abs(p.Amount*100-math.Round(p.Amount*100)) > 1e-6:
			fault(at, "amount %v: want an amount above 0, as 129.00", p.Amount)
		}
		seen[p.Rule] = true
	}
}

func (c *Config) checkTechnicians(fault faulter) {
	seen := make(map[string]bool)
	for i, t := range c.Weeks.Technicians {
		switch at := fmt.Sprintf("weeks.technician %d", i+1); {
		case t.Name == "":
			fault(at, "name missing; absences go by it")
		case seen[t.Name]:
			fault(fmt.Sprintf("%s (%q)", at, t.Name), "named twice; absences go by the name, so each needs one of their own")
		}
		seen[t.Name] = true
		if len(t.Hours) != 7 || slices.ContainsFunc(t.Hours, func(h float64) bool { return !(h >= 0 && h <= 24) }) {
			fault("weeks.technician "+t.Name, "hours: want seven figures from 0 to 24, Monday to Sunday")
		}
	}
}

func (c *Config) checkServe(fault faulter) {
	for _, v := range c.Serve.Proxies {
		p, err := parseNetwork(v)
		if err != nil {
			fault("serve.proxies", "%q: want an address such as 127.0.0.1, or a network such as 10.88.0.0/16", v)
			continue
		}
		c.proxies = append(c.proxies, p)
	}
	if v := c.Serve.LogLevel; !slices.Contains([]string{"", "debug", "info", "warn", "error"}, v) {
		fault("serve.log_level", "%q: want debug, info, warn or error", v)
	}
}

// checkHours looks at times of day, and at those that belong together.
func (c *Config) checkHours(fault faulter) {
	at := func(field, v string) (time.Time, bool) {
		t, err := time.Parse("15:04", v)
		if err != nil {
			fault(field, "%q: want a time of day such as 09:00", v)
		}
		return t, err == nil
	}
	at("backup.hour", c.Backup.Hour)
	for field, h := range map[string][2]string{"reminders": {c.Reminders.From, c.Reminders.Until}, "freeze": {c.Freeze.From, c.Freeze.Until}} {
		from, ok1 := at(field+".from_hour", h[0])
		until, ok2 := at(field+".until_hour", h[1])
		if ok1 && ok2 && !from.Before(until) {
			fault(field, "from_hour %q, until_hour %q: want the earlier hour first", h[0], h[1])
		}
	}
}

// faults refuses half of a lease: a shop that looks protected and is not.
func (l *Lease) faults(fault faulter) {
	if (l.Object == "") != (l.KeysFile == "") {
		fault("lease", "object %q, keys_file %q: want both, or neither where no second machine takes over", l.Object, l.KeysFile)
	}
	u, err := url.Parse(l.Object)
	if l.Object == "" {
		return
	}
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || u.Scheme != "https" && u.Scheme != "http" ||
		strings.Trim(u.Path, "/") == "" || strings.HasSuffix(u.Path, "/") {
		fault("lease.object", "%q: want the address of an object, such as https://objects.example.com/our-bucket/lease", l.Object)
	} else if u.Scheme == "http" && !loopback(u.Hostname()) {
		fault("lease.object", "%q: want https, except on this machine", l.Object)
	}
	if strings.TrimSpace(l.Region) == "" {
		fault("lease.region", "missing; a storage without regions takes us-east-1")
	}
}

// loopback reports whether a host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// parseNetwork reads a network, or an address as the network of it alone. Not
// everybody is one: who is believed there could be anybody.
func parseNetwork(s string) (netip.Prefix, error) {
	p, err := netip.ParsePrefix(s)
	if err != nil {
		a, err := netip.ParseAddr(s)
		if err != nil {
			return p, err
		}
		p = netip.PrefixFrom(a, a.BitLen())
	}
	if p.Bits() == 0 {
		return p, fmt.Errorf("%s is everybody", s)
	}
	if a := p.Addr(); a.Is4In6() && p.Bits() >= 96 {
		p = netip.PrefixFrom(a.Unmap(), p.Bits()-96)
	}
	return p, nil
}
