# Written by hand: the database itself keeps the ledger from being edited.

from django.db import migrations

from showrun.shows.migrations._only_adds import only_adds


class Migration(migrations.Migration):

    dependencies = [
        ('entries', '0003_outfits_money_and_check_in'),
        ('shows', '0004_record_only_adds'),
    ]

    operations = [
        only_adds('entries_posting'),
        only_adds('entries_postingline'),
        only_adds('entries_crewchange'),
    ]
