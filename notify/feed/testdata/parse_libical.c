/* Reads a calendar from standard input, or those in the files named, with libical
 * and prints one JSON object a line for each event, as feed_parsers_test.go
 * expects it.
 * Build: cc parse_libical.c $(pkg-config --cflags --libs libical) */
#include <libical/ical.h>
#include <stdio.h>
#include <stdlib.h>

static void text(const char *key, const char *s)
{
	printf("\"%s\":\"", key);
	for (; s && *s; s++) {
		unsigned char c = (unsigned char)*s;
		if (c == '"' || c == '\\')
			printf("\\%c", c);
		else if (c < 0x20)
			printf("\\u%04x", c);
		else
			putchar(c);
	}
	printf("\",");
}

static void moment(const char *key, struct icaltimetype t)
{
	if (!t.is_date && !icaltime_is_utc(t)) {
		fprintf(stderr, "%s is not in UTC\n", key);
		exit(1);
	}
	text(key, icaltime_as_ical_string(t));
}

static const char *property(icalcomponent *e, icalproperty_kind kind)
{
	icalproperty *p = icalcomponent_get_first_property(e, kind);
	if (!p)
		return "";
	return icalvalue_get_text(icalproperty_get_value(p));
}

static void event(const char *feed, icalcomponent *e)
{
	icalproperty *last = icalcomponent_get_first_property(e, ICAL_LASTMODIFIED_PROPERTY);

	printf("{");
	text("feed", feed);
	text("uid", icalcomponent_get_uid(e));
	text("summary", property(e, ICAL_SUMMARY_PROPERTY));
	text("description", property(e, ICAL_DESCRIPTION_PROPERTY));
	text("location", property(e, ICAL_LOCATION_PROPERTY));
	text("status", icalproperty_enum_to_string(icalcomponent_get_status(e)));
	moment("start", icalcomponent_get_dtstart(e));
	moment("end", icalcomponent_get_dtend(e));
	moment("lastmod", icalproperty_get_lastmodified(last));
	printf("\"sequence\":%d}\n", icalcomponent_get_sequence(e));
}

static int show(const char *feed, FILE *in)
{
	static char body[2000000];
	size_t n = fread(body, 1, sizeof body - 1, in);
	icalcomponent *calendar, *e;

	body[n] = 0;
	calendar = icalparser_parse_string(body);
	if (!calendar || icalcomponent_isa(calendar) != ICAL_VCALENDAR_COMPONENT) {
		fprintf(stderr, "not one calendar\n");
		return 1;
	}
	if (icalcomponent_count_errors(calendar) > 0 || !icalrestriction_check(calendar)) {
		fprintf(stderr, "errors in the calendar:\n%s\n", icalcomponent_as_ical_string(calendar));
		return 1;
	}
	for (e = icalcomponent_get_first_component(calendar, ICAL_VEVENT_COMPONENT); e;
	     e = icalcomponent_get_next_component(calendar, ICAL_VEVENT_COMPONENT))
		event(feed, e);
	icalcomponent_free(calendar);
	return 0;
}

int main(int argc, char **argv)
{
	int i;

	if (argc == 1)
		return show("", stdin);
	for (i = 1; i < argc; i++) {
		FILE *in = fopen(argv[i], "rb");

		if (!in || show(argv[i], in)) {
			fprintf(stderr, "in %s\n", argv[i]);
			return 1;
		}
		fclose(in);
	}
	return 0;
}
