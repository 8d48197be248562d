package runlog

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// cellsUnder are two cells that a column of each name may hold, by the column.
var cellsUnder = map[string][2]string{
	"date": {"16.05.2026", "17.05.2026"}, "car": {"heron", "heron"}, "pinion_teeth": {"16", "17"}, "spur_teeth": {"68", "68"},
	"internal_ratio": {"2.5", "2.5"}, "final_drive_ratio": {"10.625", "10"}, "tire_diameter": {"118", "118"},
	"tire_circumference": {"371", "371"}, "ambient": {"21", "23"}, "run_minutes": {"11.5", "12"}, "motor_peak": {"66", "71"},
	"esc_peak": {"52", "54"}, "battery_peak": {"38", "40"}, "motor_start": {"25", "30"}, "esc_start": {"24", "29"}, "battery_start": {"24", "30"},
	"stopped_by_heat": {"no", "no"}, "cells": {"3", "3"}, "motor": {"17.5T", "17.5T"}, "surface": {"grass", "clay"},
	"cooling": {"fan", "none"}, "skip": {"no", "no"}, "note": {"dry", "wet"},
}

// readHeader reads a log in the program's own columns, but for one whose header is another, and
// returns the column that this was read as.
func readHeader(t *testing.T, header, column string) string {
	t.Helper()
	metric := units.Metric
	headers, rows := []string{header}, [2][]string{{cellsUnder[column][0]}, {cellsUnder[column][1]}}
	for _, c := range columns {
		isOther := c.quantity != column && (c.Need == always || c.quantity == "esc_peak" || c.quantity == "motor_peak") &&
			!(column == "tire_circumference" && c.group == "tire")
		if isOther {
			headers = append(headers, c.Name())
			for i := range rows {
				rows[i] = append(rows[i], cellsUnder[c.quantity][i])
			}
		}
	}
	text := strings.Join(headers, ";") + "\n" + strings.Join(rows[0], ";") + "\n" + strings.Join(rows[1], ";") + "\n"
	log, err := Read("log.csv", strings.NewReader(text), Options{Forgiving: true, FileUnits: &metric})
	if err != nil {
		return fmt.Sprint(err)
	}
	if len(log.Problems)+len(log.Lost) > 0 {
		t.Errorf("%s: %v %v", header, log.Problems, log.Lost)
	}
	if name := log.Columns[0].Name; name != "" {
		return matchHeader(name).column.quantity
	}
	return ""
}

// The headers are the trade's in six languages, from memory.
func TestHeadersOfSixLanguages(t *testing.T) {
	for column, headers := range map[string][]string{
		"date":               {"Date", "Datum", "Fecha", "Data", "Tag", "Jour", "Día", "Giorno", "Dag", "When", "Date/Time", "Datum/Uhrzeit"},
		"car":                {"Vehicle", "Auto", "Fahrzeug", "Modell", "Voiture", "Véhicule", "Coche", "Macchina", "Car name"},
		"pinion_teeth":       {"Pinion", "Pinion (T)", "Pinion gear", "Ritzel", "Ritzel (Zähne)", "Zähne Ritzel", "Ritzelzaehne", "Motorritzel", "Pignon", "Pignon (dents)", "Piñón", "Pinon", "Dientes piñón", "Nº dientes piñón", "Pignone", "Denti pignone", "Rondsel", "Rondsel (tanden)"},
		"spur_teeth":         {"Spur", "Spur gear", "SPUR T", "Hauptzahnrad", "HZ", "Couronne", "Nb dents couronne", "Corona", "Corona (denti)", "Hoofdtandwiel", "Tandwiel"},
		"internal_ratio":     {"Transmission ratio", "Gearbox ratio", "Trans ratio", "Innenübersetzung", "Innenuebersetzung", "Getriebeübersetzung", "Interne Übersetzung", "Rapport interne", "Relación interna", "Rapporto interno", "Interne overbrenging", "Getriebe"},
		"final_drive_ratio":  {"FDR", "Final drive", "Overall ratio", "Gesamtübersetzung", "Endübersetzung", "Gesamtuntersetzung", "Rapport final", "Relación final", "Rapporto finale", "Eindoverbrenging"},
		"tire_diameter":      {"Tire", "Tyre dia", "Tire size", "Wheel diameter", "Reifen", "Reifen Ø", "Ø Reifen", "Reifendurchmesser", "Raddurchmesser (mm)", "Reifen in mm", "Pneu", "Diamètre roue", "Ø roues (mm)", "Diámetro de rueda", "Diametro gomme", "Wieldiameter", "Banddiameter mm", "Diameter banden"},
		"tire_circumference": {"Tire circumference", "Umfang", "Reifenumfang", "Abrollumfang", "Circonférence", "Circunferencia rueda", "Circonferenza", "Omtrek band"},
		"ambient":            {"Air", "Air temp", "Outside temperature", "Ambient °C", "Luft", "Lufttemp.", "Außentemperatur", "Aussentemp", "Umgebungstemperatur", "Temp. Luft", "Température extérieure", "T° air", "Temp. ambiente", "Temperatura aria", "Temperatura dell'aria", "Buitentemp", "Luchttemperatuur", "Omgevingstemperatuur", "Température de l'air"},
		"run_minutes":        {"Run time", "Runtime", "Duration", "Minutes", "Mins", "Run (min)", "Drive time", "Time (min)", "Fahrzeit", "Laufzeit", "Dauer", "Zeit (min)", "Minuten", "Fahrzeit in Minuten", "Durée", "Temps de roulage", "Duración", "Tiempo (min)", "Durata", "Tempo di guida", "Rijtijd", "Duur"},
		"motor_peak":         {"Motor", "Motor temp", "Motor max", "Max motor temperature", "Peak temp motor", "Temp (motor)", "Motor °C", "Mot. temp.", "T Motor", "Can temp", "Motortemperatur", "Motortemp", "Temp. Motor nach Fahrt", "Motor Höchsttemperatur", "Température moteur", "T° moteur", "Moteur maxi", "Temp. motor máx.", "Temperatura motor", "Temperatura motore", "Motore max", "Motortemperatuur", "Temp motor na rit", "Temperature of the motor"},
		"esc_peak":           {"ESC", "ESC temp", "Speed control temp", "Regler", "Reglertemp.", "Fahrtregler max", "Température variateur", "Temp. variador", "Temp. regolatore", "Regelaartemp", "Snelheidsregelaar temp"},
		"battery_peak":       {"Battery", "Battery temp", "Batt. max", "Lipo temp", "Akku", "Akkutemp.", "Akku max", "Temp. Akku", "Température accu", "Batterie max", "Temp. batería", "Temperatura batteria", "Accutemp", "Accu max"},
		"motor_start":        {"Motor start", "Motor temp before", "Motor Temp. vorher", "Motor Start °C", "Température moteur avant", "Temp. motor antes", "Temp. motore prima", "Motortemp voor"},
		"esc_start":          {"ESC before", "Regler vor Fahrt", "Variateur avant"},
		"battery_start":      {"Battery start temp", "Akku vorher", "Batterie début"},
		"stopped_by_heat":    {"Heat stop", "Thermal", "Hitzestopp", "Überhitzt", "Surchauffe", "Sobrecalentado", "Surriscaldato", "Oververhit"},
		"cells":              {"Cells", "Cells (S)", "Cell count", "Zellen", "Zellenzahl", "Éléments", "Celdas", "Celle", "Cellen"},
		"motor":              {"Motor type", "Motortyp", "Type moteur", "Tipo motore"},
		"surface":            {"Ground", "Untergrund", "Sol", "Superficie", "Fondo", "Ondergrond"},
		"cooling":            {"Fan", "Kühlung", "Lüfter", "Ventilateur", "Raffreddamento", "Koeling"},
		"note":               {"Notes", "Comments", "Bemerkung", "Notizen", "Remarques", "Observaciones", "Note", "Opmerkingen"},
	} {
		for _, header := range headers {
			if got := readHeader(t, header, column); got != column {
				t.Errorf("%q is read as %q, want %s", header, got, column)
			}
		}
	}
}

// What is no column of a run is left alone, however near its words come to one.
func TestHeadersThatAreNoColumns(t *testing.T) {
	for header, column := range map[string]string{
		"Battery number": "cells", "Akku Nr.": "cells", "Pack": "cells", "Battery (mAh)": "battery_peak", "Akkuspannung": "esc_peak",
		"Motor kV": "motor_peak", "Motor timing": "cells", "Motor min": "motor_peak", "ESC timing": "cells", "ESC (A)": "esc_peak",
		"Tire brand": "surface", "Tire compound": "surface", "Reifentyp": "surface", "Track temp": "ambient", "Lap time": "run_minutes", "Best time": "run_minutes",
		"Total time": "run_minutes", "Start time": "run_minutes", "Weight": "ambient", "Pinion brand": "surface", "Spur wear": "surface", "Diff oil": "cells", "Weather": "surface",
		"Wetter": "surface", "Total": "motor_peak", "Run": "cells", "Nr.": "cells", "Rollout": "tire_diameter", "Driver": "car", "Fahrer": "car", "Motor avg": "motor_peak",
		"Surface temp": "ambient", "In": "cells", "S": "cells", "": "note",
	} {
		if got := readHeader(t, header, column); got != "" && !strings.HasPrefix(got, "log.csv:1: no usable header line") {
			t.Errorf("%q is read as %s", header, got)
		}
	}
}

// Every language of the table has a word for each meaning that a needed column is made of.
func TestEveryLanguageSaysWhatIsNeeded(t *testing.T) {
	languages := map[string][]string{}
	for line := range strings.Lines(namesFile) {
		if cells := strings.Split(line, ","); len(cells) > 2 && !strings.HasPrefix(line, "#") {
			languages[cells[1]] = append(languages[cells[1]], cells[0])
		}
	}
	if len(languages) != 6 {
		t.Fatalf("languages %v", languages)
	}
	for language, means := range languages {
		for _, needed := range strings.Fields("date clock time run duration car pinion spur teeth ratio internal final tire diameter circumference " +
			"air temperature highest end start motor esc battery stopped_by_heat cells surface cooling skip note about unmeasured too_hot not sum yes no month_1 month_12") {
			if !slices.Contains(means, needed) {
				t.Errorf("%s has no word for %s", language, needed)
			}
		}
	}
}

// A header that is said or remembered to stand for nothing is not read, whatever its words, its name
// and its cells say, and is asked for no more.
func TestHeadersThatAreSaidToBeNothing(t *testing.T) {
	const text = "Datum;Auto;Ritzel;Hauptzahnrad;Reifen Ø (mm);Luft °C;Fahrzeit;Motor °C;ESC temp °C;note\n" +
		"09.05.2026;Dachs;16;68;101;21;11;66;52;dry\n10.05.2026;Dachs;17;68;101;21;11;69;55;wet\n"
	aside := map[string]string{"esc-temp °c": "", "Note": ""}
	for from, opts := range map[Origin]Options{
		AsSaid:       {Forgiving: true, Columns: aside},
		AsRemembered: {Forgiving: true, Remembered: Remembered{Columns: map[string]string{"ESC temp °C": ""}}, Columns: map[string]string{"note": ""}},
	} {
		log := mustRead(t, text, opts)
		if len(log.Runs) != 2 || log.Runs[0].Peak.Len() != 1 || log.Runs[0].Note != "" {
			t.Errorf("%d: %+v", from, log.Runs)
		}
		if h := log.Columns[8]; h.Name != "" || h.From != from {
			t.Errorf("%d: the header is read as %+v", from, h)
		}
		told := slices.ContainsFunc(log.Notices, func(p run.Problem) bool { return strings.Contains(p.What, `"ESC temp °C" → nothing as remembered`) })
		if told != (from == AsRemembered) || len(log.Warnings) > 0 {
			t.Errorf("%d: %v %v", from, log.Notices, log.Warnings)
		}
	}
	var header *HeaderError
	_, err := Read("log.csv", strings.NewReader(text), Options{Forgiving: true, Columns: map[string]string{"Ritzel": ""}})
	if !errors.As(err, &header) || !slices.Equal(header.Lacking, []string{"pinion_teeth"}) || len(header.Try.Columns) > 0 {
		t.Errorf("without a pinion: %+v", err)
	}
	if h := header.Headings[7]; h.Name != "motor_peak_c" || header.Rows[1][7] != "69" {
		t.Errorf("the error tells the headers as %v, with %v", header.Headings, header.Rows)
	}
}
