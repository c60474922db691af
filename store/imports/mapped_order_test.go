package imports_test

import (
	"strings"
	"testing"

	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// Hours on a row of work are those of the boat's engine, whichever of its rows
// describes it.
func TestEngineOfALaterRowTakesTheHours(t *testing.T) {
	text := strings.Replace(workMapping, `"Remark" = "work.note"`, "\"Remark\" = \"work.note\"\n\"Hours\" = \"work.hours\"\n\"Engine\" = \"engine.model\"", 1)
	text = strings.Replace(text, `"Paid" = "1,234.50"`, "\"Paid\" = \"1,234.50\"\n\"Hours\" = \"1,234.50\"", 1)
	for _, rows := range []string{
		"Paz,Tern,2024-05-01,pump,10,,263,\nPaz,Tern,2025-05-01,pump,20,,300,TM60\n",
		"Paz,Tern,2025-05-01,pump,20,,300,TM60\nPaz,Tern,2024-05-01,pump,10,,263,\n",
	} {
		db := open(t)
		intakeMapped(t, db, text, "list.csv", strings.TrimSuffix(workHead, "\n")+",Hours,Engine\n"+rows, imports.MappedOptions{})
		f, err := db.Facts(t.Context(), allBoats(t, db)[0].ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.Readings) != 2 || len(f.Records) != 2 || f.Records[0].ComponentID == "" || f.Records[0].Note != "" {
			t.Errorf("readings %v, records %+v", f.Readings, f.Records)
		}
	}
}

// A fault that two rows make together names the other one by its own table and line.
func TestFaultNamesTheRowOfTheTable(t *testing.T) {
	text := strings.Replace(workMapping, `"Remark" = "work.note"`, "\"Remark\" = \"work.note\"\n\"Sold\" = \"boat.sold_on\"\n\"Number\" = \"boat.id\"", 1)
	text = strings.Replace(text, `"Done" = "ymd"`, "\"Done\" = \"ymd\"\n\"Sold\" = \"ymd\"", 1)
	m, err := mapping.Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	table := strings.TrimSuffix(workHead, "\n") + ",Sold,Number\nUli,Wren,2024-05-02,pump,1,,2020-01-01,B9\nUli,Wren,2024-05-03,pump,1,,2020-01-01,B9\nPaz,Tern,2024-05-01,pump,10,,2023-04-01,B1\nZoë,Tern,2025-05-01,pump,20,,2023-04-01,B1\n"
	rep, err := imports.IntakeMapped(t.Context(), open(t), noon, []*sheet.Book{book(t, "list.csv", []byte(table))}, m, mapped(), imports.MappedOptions{DryRun: true})
	if err == nil || rep.Returned != 1 || !strings.Contains(rep.Listed[0].Reason, "is on row 4 of list.csv already with the same day") {
		t.Errorf("%v, %v", rep.Listed, err)
	}
}
