package config

import (
	"cmp"
	"slices"
	"sync"

	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
)

// Kind is what a value is, and so how a page asks for it.
type Kind int

const (
	Text       Kind = iota
	Prose           // a text of several sentences
	Whole           // a whole number
	Decimal         // a number
	Share           // a share, asked for in percent
	Switch          // yes or no
	OneOf           // one of a few
	Clock           // a time of day, "08:00"
	MonthDay        // a day of every year, "05-15"
	Days            // days, one a line
	Clocks          // times of day, one a line
	Codes           // codes, one a line
	WeekHours       // hours of each day, Monday first
	WeekCounts      // a number for each day, Monday first
)

// Setting is one that a page changes.
type Setting struct {
	Key   string // "reminders.gap_days", "place.launch"
	Page  string // the page's name
	Block string // the kind of block that it belongs to: "place"; "" for none
	Title string
	Does  string // what it does, in a sentence
	Kind  Kind
	Of    []Choice // of OneOf
}

// Choice is one of a few values.
type Choice struct{ Value, Words string }

// Settings are those that pages change, in the order in which pages ask for them.
// Whatever is no setting of this list (files, addresses, the mail server, passwords
// and keys among them) is refused in the pages' file.
func Settings() []Setting {
	var all []Setting
	for _, some := range [][]Setting{shopSettings(), weekSettings(), closedSettings(), placeSettings(), yardSettings(), priceSettings(), reminderSettings(),
		dropOffSettings(), freezeSettings(), planSettings(), formatSettings()} {
		all = append(all, some...)
	}
	return all
}

func shopSettings() []Setting {
	const page = "shop"
	var languages []Choice
	for _, l := range texts.Languages() {
		languages = append(languages, Choice{l, texts.EnglishName(l)})
	}
	return []Setting{
		{"shop.name", page, "", "Name", "Stands on every page and email, and in customers' calendars.", Text, nil},
		{"shop.address", page, "", "Postal address", "Printed on every email, as the law asks for: a street address or post box, on one line.", Text, nil},
		{"shop.phone", page, "", "Phone", "The number that emails and customers' pages give.", Text, nil},
		{"shop.email", page, "", "Public email address", "The address that customers may write to; weather services get it too.", Text, nil},
		{"shop.language", page, "", "Language of customers", "Of emails, pages and calendars for customers who have none of their own. What staff read is in English.", OneOf,
			languages},
		{"shop.owner_email", page, "", "Monthly report to", "Where the owner's monthly report is emailed; empty for nowhere. It is also a page.", Text, nil},
		{"shop.time_zone", page, "", "Time zone", "Days change and emails are sent by this zone's clock, such as America/New_York.", Text, nil},
	}
}

func weekSettings() []Setting {
	const page, block = "weeks", "weeks.technician"
	return []Setting{
		{"weeks.technician.name", page, block, "Technician", "Absences and the day's list go by this name.", Text, nil},
		{"weeks.technician.hours", page, block, "Hours, Monday to Sunday", "Clocked hours on each day of an ordinary week.", WeekHours, nil},
		{"weeks.allowance", page, "", "Share for planned visits", "The share of the technicians' clocked time that is available for planned visits; the rest goes to walk-ins, parts runs and surprises.", Share, nil},
		{"weeks.target", page, "", "Weeks are filled to", "The share of the available time up to which the plan fills a week; only what does not fit under it makes weeks fuller.", Share, nil},
		{"weeks.winterization_margin_weeks", page, "", "Winterization, weeks before the deadline", "A winterization is planned for so many weeks before its deadline.", Whole, nil},
		{"weeks.winterization_first_weeks", page, "", "Winterization, weeks before at the most", "And for no more than so many weeks before, unless the weeks cannot hold it otherwise.", Whole, nil},
	}
}

func closedSettings() []Setting {
	const page = "closed"
	return []Setting{
		{"weeks.holiday_calendar", page, "", "Public holidays", "The public holidays on which the shop is closed.", OneOf,
			[]Choice{{"us", "United States (federal)"}, {"ca", "Canada"}, {"", "none"}}},
		{"weeks.holidays", page, "", "Further closed days", "Days on which nobody works, one a line: 2027-07-05.", Days, nil},
	}
}

func placeSettings() []Setting {
	const page, block = "places", "place"
	return []Setting{
		{"place.name", page, block, "Place", "Boats are entered under this name.", Text, nil},
		{"place.launch", page, block, "On the water from", "When owners want to be on the water: month and day, 05-15. Empty where it does not freeze.", MonthDay, nil},
		{"place.winterize_by", page, block, "Winterize by", "The last day by which a boat must be winterized: month and day, 10-10. Empty takes it from \"bellbuoy climate load\", or where it does not freeze.", MonthDay, nil},
		{"place.source", page, block, "Where that day comes from", "Shown in the reasons of a plan.", Text, nil},
		{"place.yard_offset_c", page, block, "Colder than the forecast by, °C", "By how many degrees Celsius the boats lie colder than the forecast's point: 0 for a yard like it, 3 to 4 for a hollow.", Decimal, nil},
		{"place.cold_water", page, block, "Cold water from", "From this day on the water is usually under 4 °C, so that boats afloat freeze too: 11-20. Empty if nobody knows.", MonthDay, nil},
	}
}

func yardSettings() []Setting {
	const page, block = "yard", "yard.work"
	minutes := func(key, title string) Setting {
		return Setting{"yard.work." + key, page, block, title, "", Whole, nil}
	}
	return []Setting{
		{"yard.crew_hours", page, "", "Hours of the yard crew", "Hours of all of the crew together for planned boats. All empty: the crew limits nothing.", WeekHours, nil},
		{"yard.lifts", page, "", "Lifts", "Boats that the lift hauls or launches. All empty: the lift limits nothing.", WeekCounts, nil},
		{"yard.work.berth", page, block, "Kept", "Minutes of the yard crew go by where the boat is kept and its kind; the row that says most about a boat holds. Haul, wash, block and wrap go with the winterization, launch with the spring commissioning.", OneOf, []Choice{{"", "anywhere"}, {"own-dock", "slip or dock"}, {"own-lift", "lift"}, {"trailer-home", "trailer"},
			{"shop-heated", "our storage, heated"}, {"shop-inside", "our storage, inside"}, {"shop-outside", "our storage, outside"}}},
		{"yard.work.kind", page, block, "Kind", "", OneOf, []Choice{{"", "any"}, {"runabout", "runabout"}, {"pontoon", "pontoon"}, {"fishing", "fishing"}, {"cruiser", "cruiser"},
			{"tow", "tow"}, {"sail", "sail"}, {"personal", "personal"}, {"other", "other"}}},
		minutes("haul", "Haul"), minutes("wash", "Wash"), minutes("block", "Block"), minutes("wrap", "Wrap"), minutes("launch", "Launch"),
	}
}

func priceSettings() []Setting {
	const page, block = "prices", "price"
	return []Setting{
		{"price.rule", page, block, "Job", "A job of the catalog. What is not listed here keeps the catalog's price, or that of the shop's own rules.", OneOf, pricedJobs()},
		{"price.amount", page, block, "Price", "In whole units of the currency, labor and parts together, before tax: 129 or 129.50.", Decimal, nil},
	}
}

// pricedJobs are the catalog's jobs by title, with their prices.
var pricedJobs = sync.OnceValue(func() []Choice {
	cat, err := rules.Default()
	if err != nil {
		return nil // its own test fails then
	}
	var all []Choice
	for i := range cat.Rules {
		r := &cat.Rules[i]
		all = append(all, Choice{r.Code, r.Title + " (" + r.Code + ", " + r.Price.String() + ")"})
	}
	slices.SortFunc(all, func(a, b Choice) int { return cmp.Compare(a.Words, b.Words) })
	return all
})

func reminderSettings() []Setting {
	const page = "reminders"
	return []Setting{
		{"reminders.first_reminder_days", page, "", "First reminder", "Days before a visit's planned day.", Whole, nil},
		{"reminders.second_reminder_days", page, "", "Second reminder", "Days before a visit's planned day.", Whole, nil},
		{"reminders.final_reminder_days", page, "", "Final reminder", "Days before a visit's deadline.", Whole, nil},
		{"reminders.overdue_notice_days", page, "", "Overdue notice", "Days after a visit's deadline.", Whole, nil},
		{"reminders.after_visit", page, "", "Email after each visit", "What was done, and what comes next.", Switch, nil},
		{"reminders.small_visit", page, "", "A small visit costs less than", "A visit that costs less, in whole units of the currency, has no second reminder, unless the law or safety asks for its work.", Decimal, nil},
		{"reminders.gap_days", page, "", "Days between two reminders", "At least so many days between two reminders to one customer.", Whole, nil},
		{"reminders.yearly_limit", page, "", "Most reminders a year", "To one customer, all boats together; the rest goes on the call list. 0 is no limit.", Whole, nil},
		{"reminders.daily_limit", page, "", "Most reminders a day", "To all customers together.", Whole, nil},
		{"reminders.from_hour", page, "", "Reminders leave from", "By the shop's clock.", Clock, nil},
		{"reminders.until_hour", page, "", "Reminders leave until", "By the shop's clock.", Clock, nil},
		{"reminders.saturdays", page, "", "Also on Saturdays", "Reminders leave Monday to Friday, or on Saturdays too.", Switch, nil},
		{"reminders.no_reply_seasons", page, "", "Seasons without a reply", "After so many seasons with reminders and without a reply the customer is called instead. 0 never does.", Whole, nil},
		{"reminders.comparison_percent", page, "", "Comparison group, percent of customers", "Chosen at random each season, they get no second reminder; the owner's page then shows what the second reminder brings. 0 for no comparison group, 10 to 20 show something after a few seasons.", Whole, nil},
		{"reminders.least_notice_days", page, "", "Working days of notice", "At least so many between a reminder and the last day on which the visit can still be booked in time; a customer who would hear later is called.", Whole, nil},
		{"reminders.parts_to_order", page, "", "Parts that are ordered for a visit", "Codes of the catalog, one a line; a visit that uses one needs the notice below. Empty: every part is in stock.", Codes, nil},
		{"reminders.parts_notice_days", page, "", "Working days of notice for those", "Of a visit that uses a part that is ordered for it.", Whole, nil},
		{"reminders.day_passed_days", page, "", "Days that a passed booking holds", "A booked day that passes without recorded work holds its visit for so many days; then the visit is planned, and its customer reminded, like any that is not booked.", Whole, nil},
	}
}

func dropOffSettings() []Setting {
	const page = "drop-off"
	words := func(berth, title string) Setting {
		return Setting{"drop_off.words." + berth, page, "", title, "How the boat comes to you and what comes with it, in English. Empty takes the built-in sentence.", Prose, nil}
	}
	return []Setting{
		{"drop_off.from_hour", page, "", "Boats are dropped off from", "When no hour is agreed. Empty, with the next, for no set time.", Clock, nil},
		{"drop_off.until_hour", page, "", "Boats are dropped off until", "When no hour is agreed.", Clock, nil},
		{"drop_off.times", page, "", "Times to choose from", "Customers choose one with the day when they book on their page; one a line, such as 08:00, the earlier first. Empty: they choose only the day.", Clocks, nil},
		{"drop_off.boats_at_once", page, "", "Boats at each of those times", "A time that is taken is not offered.", Whole, nil},
		{"drop_off.map", page, "", "Address of a map", "Linked in the email that confirms a booking; empty for none.", Text, nil},
		{"drop_off.contact", page, "", "Whom to call", "Empty gives the shop's phone.", Text, nil},
		words("own-dock", "Words for a boat at a slip or dock"), words("own-lift", "Words for a boat on a lift"), words("trailer-home", "Words for a boat on a trailer"),
		words("shop-heated", "Words for a boat in our heated storage"), words("shop-inside", "Words for a boat in our storage, inside"), words("shop-outside", "Words for a boat in our storage, outside"),
		{"calendar.appointment", page, "", "A booked day in the customer's calendar", "How it gets there. Whoever's calendar follows ours gets neither.", OneOf,
			[]Choice{{"", "calendar invitation where returned mail is read, else a file"}, {AppointmentInvitation, "calendar invitation with the email that confirms it"}, {AppointmentFile, "a file to add by hand"}, {AppointmentNone, "none"}}},
		{"calendar.booked_day_busy", page, "", "A day without an hour is busy", "Whether a day that is booked without an hour takes the customer's time in their calendar.", Switch, nil},
	}
}

func freezeSettings() []Setting {
	const page = "freeze"
	return []Setting{
		{"freeze.emails", page, "", "Email owners", "Owners whose boats are at risk get an email when there is an alarm. Without it the desk sees who would hear.", Switch, nil},
		{"freeze.margin_c", page, "", "Watch, margin in °C", "A night is on watch if the forecast low, less the yard's offset and this margin, is at or below freezing.", Decimal, nil},
		{"freeze.alarm_below_c", page, "", "Alarm at or below, °C", "-2.2 °C is 28 °F, the usual hard freeze.", Decimal, nil},
		{"freeze.alarm_hours", page, "", "Alarm after, hours", "So many hours at or below that.", Decimal, nil},
		{"freeze.alarm_chance", page, "", "Alarm from a chance of", "With at least this chance by the forecast's error.", Share, nil},
		{"freeze.sigma_first_c", page, "", "Error of the first night, °C", "The standard error of a forecast low for the first night.", Decimal, nil},
		{"freeze.sigma_fifth_c", page, "", "Error of the fifth night, °C", "The standard error of a forecast low for the fifth night.", Decimal, nil},
		{"freeze.from_hour", page, "", "Freeze emails leave from", "On any day, by the shop's clock.", Clock, nil},
		{"freeze.until_hour", page, "", "Freeze emails leave until", "By the shop's clock.", Clock, nil},
		{"freeze.most_a_season", page, "", "Most freeze emails a season", "To one owner; one for each freeze.", Whole, nil},
	}
}

func planSettings() []Setting {
	const page = "planning"
	return []Setting{
		{"plan.percentile", page, "", "Chance of an hours limit", "An hours limit is planned for the day by which it has been reached with this chance: 25 sees three boats in four before the limit.", Share, nil},
		{"plan.horizon_days", page, "", "Days planned ahead", "How far ahead visits are made.", Whole, nil},
		{"plan.winterization_oil_hours", page, "", "Oil changed with the winterization after, hours", "Oil, filter and gear lube that have run this many hours since they were changed are changed with the winterization; so are those older than six months.", Decimal, nil},
	}
}

func formatSettings() []Setting {
	const page = "formats"
	usual := Choice{"", "as is usual in the country"}
	return []Setting{
		{"shop.country", page, "", "Country", "How days, times, amounts and measures are written follows the country.", OneOf,
			[]Choice{{"US", "United States"}, {"CA", "Canada"}, {"GB", "United Kingdom"}, {"IE", "Ireland"}, {"AU", "Australia"}, {"NZ", "New Zealand"}, {"DE", "Germany"}, {"FR", "France"}}},
		{"shop.currency", page, "", "Sign of the currency", "Empty is the country's.", Text, nil},
		{"formats.date_order", page, "", "Dates", "The order of day, month and year.", OneOf, []Choice{usual, {"mdy", "October 5, 2026"}, {"dmy", "5 October 2026"}, {"ymd", "2026-10-05"}}},
		{"formats.clock", page, "", "Clock", "Times of day.", OneOf, []Choice{usual, {"12", "2:30 PM"}, {"24", "14:30"}}},
		{"formats.decimal_sign", page, "", "Decimal sign", "Between whole units and the rest.", OneOf, []Choice{usual, {".", "188.5"}, {",", "188,5"}}},
		{"formats.temperature", page, "", "Temperatures", "Of the freeze watch.", OneOf, []Choice{usual, {"F", "Fahrenheit"}, {"C", "Celsius"}}},
		{"formats.length", page, "", "Lengths", "Of boats.", OneOf, []Choice{usual, {"ft", "feet"}, {"m", "meters"}}},
		{"formats.volume", page, "", "Volumes", "Of parts such as oil.", OneOf, []Choice{usual, {"gal", "gallons"}, {"l", "liters"}}},
	}
}
