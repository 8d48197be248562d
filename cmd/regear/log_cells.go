package main

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"regear/analyze/units"
)

// cell turns what a driver types for a column into what the column holds: °C and mm.
func (f runFlag) cell(text string) (string, error) {
	text = strings.TrimSpace(text)
	switch {
	case text == "" && f.needed:
		return "", errors.New("is needed")
	case text == "":
		return "", nil
	case f.column == "date":
		return text, checkMoment(text)
	case f.kind == "TEMP":
		t, err := units.ParseTemperature(text)
		return decimal(float64(t)), err
	case f.kind == "LENGTH":
		m, err := parseTire(text)
		return decimal(float64(m)), err
	case f.column == "run_minutes":
		m, err := parseRunMinutes(text)
		return decimal(float64(m)), err
	case f.column == "internal_ratio":
		x, err := units.ParseNumber(text)
		return decimal(x), err
	case f.column == "cells":
		n, err := parseCount(fewestCells, mostCells)(text)
		return strconv.Itoa(n), err
	case f.kind == "N":
		n, err := parseGear(text)
		return strconv.Itoa(n), err
	}
	return text, nil
}

// checkMoment refuses what is not a day or a moment as ISO 8601 writes them.
func checkMoment(text string) error {
	for _, form := range []string{time.DateOnly, "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04Z07:00"} {
		if _, err := time.Parse(form, text); err == nil {
			return nil
		}
	}
	return errors.New("write it as 2026-05-16T15:04, or 2026-05-16")
}

func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
