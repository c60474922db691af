package imports_test

import (
	"strings"
	"testing"

	"bellbuoy/store/imports"
)

// Hours that a table calls an estimate cost the reading, not the row, where the
// meter showed something else.
func TestContradictedEstimateCostsTheReading(t *testing.T) {
	const hoursMapping = workMapping + "\n"
	text := strings.Replace(hoursMapping, `"Remark" = "work.note"`, "\"Remark\" = \"work.note\"\n\"Hours\" = \"work.hours\"", 1)
	text = strings.Replace(text, `"Paid" = "1,234.50"`, "\"Paid\" = \"1,234.50\"\n\"Hours\" = \"1,234.50\"", 1)
	text = strings.Replace(text, "[sheet.defaults]", "[sheet.defaults]\n\"engine.propulsion\" = \"outboard\"", 1)
	for _, tt := range []struct{ name, rows, hours string }{
		{"an estimate below an earlier reading", "Paz,Tern,2024-05-01,pump,10,,263\nPaz,Tern,2025-05-01,pump,20,,approx 250\n", "263"},
		{"an estimate above a later reading", "Paz,Tern,2024-05-01,pump,10,,approx 263\nPaz,Tern,2025-05-01,pump,20,,250\n", "250"},
		{"an estimate that fits", "Paz,Tern,2024-05-01,pump,10,,approx 240\nPaz,Tern,2025-05-01,pump,20,,250\n", "240 250"},
		{"two estimates", "Paz,Tern,2024-05-01,pump,10,,~263\nPaz,Tern,2025-05-01,pump,20,,~250\n", "263"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			db := open(t)
			rep := intakeMapped(t, db, text, "list.csv", strings.TrimSuffix(workHead, "\n")+",Hours\n"+tt.rows, imports.MappedOptions{})
			if rep.Taken != 2 {
				t.Fatalf("%d rows taken: %v", rep.Taken, rep.Listed)
			}
			f, err := db.Facts(t.Context(), allBoats(t, db)[0].ID)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range f.Readings {
				got = append(got, r.Hours.String())
			}
			if strings.Join(got, " ") != tt.hours || len(f.Records) != 2 {
				t.Errorf("readings %v, want %s; %d records; %v", got, tt.hours, len(f.Records), rep.Notes)
			}
			if strings.Count(tt.hours, " ") == 0 && (len(rep.Notes) != 1 || !strings.Contains(rep.Notes[0].Reason, "contradict")) {
				t.Errorf("notes %v", rep.Notes)
			}
		})
	}
}
