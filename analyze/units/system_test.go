package units

import "testing"

// TestSystemsWrite holds what drivers read against what they would write by hand.
func TestSystemsWrite(t *testing.T) {
	for _, c := range []struct{ name, got, want string }{
		{"a reading as given", Metric.Reading(80), "80 °C"},
		{"with a decimal", Metric.Reading(70.5), "70.5 °C"},
		{"near a whole degree", Metric.Reading(70.24), "70 °C"},
		{"a third of a degree", Metric.Reading(70.3), "70.3 °C"},
		{"given in °F, shown in °C", Metric.Reading(FromFahrenheit(140)), "60 °C"},
		{"given in °C, shown in °F", US.Reading(71), "160 °F"},
		{"0.6 °F above a whole degree", US.Reading(FromFahrenheit(158.6)), "158.6 °F"},
		{"just below zero", Metric.Reading(-0.1), "0 °C"},
		{"a forecast in whole degrees", Metric.Forecast(70.6), "71 °C"},
		{"its number", US.Peak(100), "212"},
		{"a forecast beyond what any part reaches", US.Forecast(1200), "over 999 °F"},
		{"a difference", Metric.Rise(10.4), "10 °C"},
		{"a difference has no zero point", US.Rise(10), "18 °F"},
		{"a tire", US.Tire(FromInches(4.65)), "4.65 in"},
		{"a tire in mm", Metric.Tire(118.04), "118 mm"},
		{"a rollout", Metric.Rollout(37.04), "37.0"},
		{"a rollout in inches", US.Rollout(37.071), "1.46"},
		{"minutes", Minutes(12.25).String(), "12.3 min"},
		{"whole minutes", Minutes(12).String(), "12 min"},
		{"never -0", Fixed(-0.04, 1), "0.0"},
		{"nor without decimals", Trimmed(-0.04, 1), "0"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}

// TestSystemsAreNamed as flags and files name them.
func TestSystemsAreNamed(t *testing.T) {
	for _, s := range Systems {
		if got, err := ParseSystem(s.String()); err != nil || got != s {
			t.Errorf("%v comes back as %v, %v", s, got, err)
		}
	}
	if got, err := ParseSystem("imperial"); err == nil {
		t.Errorf("imperial is read as %v", got)
	}
}
