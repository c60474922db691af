package words

// The languages that there are names of days and months in.
const (
	English = "en"
	French  = "fr"
)

// Languages are those that a customer can be written to in.
var Languages = []string{English, French}

// country is what the formats of one country follow, in English and in French.
type country struct {
	order          order
	time           timeStyle
	am, pm         string
	sign           string // of the currency
	decimal, group string // in English
	degree         string // before the sign of a degree, in English
	metric         bool   // °C, m and l
	feet           bool   // boats are measured in feet all the same
	frenchTime     timeStyle
	frenchGroup    string
}

// Boats are sold by the foot in Canada (common practice).
var countries = map[string]country{
	"US": {monthDayYear, halves, "AM", "PM", "$", ".", ",", "", false, true, frenchHrs, "\u00a0"},
	"CA": {monthDayYear, halves, "a.m.", "p.m.", "$", ".", ",", "\u00a0", true, true, frenchHrs, "\u00a0"},
	"GB": {dayMonthYear, colon, "am", "pm", "£", ".", ",", "", true, false, colon, "\u202f"},
	"IE": {dayMonthYear, colon, "am", "pm", "€", ".", ",", "", true, false, colon, "\u202f"},
	"AU": {dayMonthYear, halves, "am", "pm", "$", ".", ",", "", true, false, colon, "\u202f"},
	"NZ": {dayMonthYear, halves, "am", "pm", "$", ".", ",", "", true, false, colon, "\u202f"},
	"DE": {dayMonthYear, colon, "am", "pm", "€", ",", ".", "", true, false, colon, "\u202f"},
	"FR": {dayMonthYear, colon, "am", "pm", "€", ",", "\u202f", "", true, false, colon, "\u202f"},
}

// names are the names of months and days in one language; a month's short name is
// written with a day.
type names struct {
	months, monthsShort [12]string
	days, daysShort     [7]string // Sunday first
}

var englishNames = names{
	[12]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"},
	[12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"},
	[7]string{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"},
	[7]string{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"},
}

var frenchNames = names{
	[12]string{"janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre", "décembre"},
	[12]string{"janv.", "févr.", "mars", "avr.", "mai", "juin", "juill.", "août", "sept.", "oct.", "nov.", "déc."},
	[7]string{"dimanche", "lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi"},
	[7]string{"dim.", "lun.", "mar.", "mer.", "jeu.", "ven.", "sam."},
}
