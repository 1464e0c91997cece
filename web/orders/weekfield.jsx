// SPDX-License-Identifier: MIT
// A ship week is chosen by its days, not typed as a code.

import { useSeason } from '../shared/season.jsx';
import { useResource } from '../shared/net/use.js';

/**
 * @param {object} props
 * @param {string} props.value "2032-W16", or empty
 * @param {(week: string) => void} props.onWeek
 * @param {boolean} [props.required]
 * @param {string} [props.none] what stands for no week
 */
export function WeekSelect({ value, onWeek, required, none = '–' }) {
  const { format } = useSeason();
  const weeks = /** @type {string[]} */ (
    (useResource('/api/schedule?without=1&most=0').data?.weeks ?? []).map((w) => w.week)
  );
  // A week that was set before the first one open still shows as what it is.
  const all = value && !weeks.includes(value) ? [value, ...weeks] : weeks;
  return (
    <select required={required} value={value} onChange={(e) => onWeek(e.currentTarget.value)}>
      <option value="">{none}</option>
      {all.map((w) => (
        <option key={w} value={w}>
          {format.week(w)}
        </option>
      ))}
    </select>
  );
}
