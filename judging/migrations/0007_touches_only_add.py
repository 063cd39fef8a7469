# Written by hand: the database itself keeps what judges touched and who signed from being edited.

from django.db import migrations

from showrun.shows.migrations._only_adds import only_adds


class Migration(migrations.Migration):

    dependencies = [
        ('judging', '0006_results_people_can_believe'),
        ('shows', '0004_record_only_adds'),
    ]

    operations = [
        # What became of a touch is added later; what was touched, when and by whom is not.
        only_adds(
            'judging_roundevent',
            fixed=(
                *('id', 'show_id', 'device_id', 'seq', 'body', 'body_hash', 'phone_time'),
                *('keyed_by', 'received_at', 'happened_at'),
            ),
        ),
        only_adds('judging_signature'),
        only_adds('judging_keying'),
        only_adds('judging_keyedrow'),
        only_adds('judging_temperaturereading'),
    ]
