"""Dates and numbers in Spanish of Mexico and the United States, not of Spain.

After the Unicode CLDR, locales es-MX and es-US: a point before decimals, a comma between thousands,
hours to twelve, the week from Sunday. Days are read month first as in English here, because the
papers they are copied from are written so; forms with a calendar send neither.
"""

DATE_FORMAT = r"j \d\e F \d\e Y"
TIME_FORMAT = "g:i a"
DATETIME_FORMAT = r"j \d\e F \d\e Y, g:i a"
YEAR_MONTH_FORMAT = r"F \d\e Y"
MONTH_DAY_FORMAT = r"j \d\e F"
SHORT_DATE_FORMAT = "d/m/Y"
SHORT_DATETIME_FORMAT = "d/m/Y g:i a"
FIRST_DAY_OF_WEEK = 0
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%m/%d/%Y", "%m/%d/%y"]
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
