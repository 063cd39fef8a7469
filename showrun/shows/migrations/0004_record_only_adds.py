# Written by hand: the database itself keeps the record from being edited.

from django.db import migrations

from showrun.shows.migrations._only_adds import only_adds


class Migration(migrations.Migration):

    dependencies = [
        ('shows', '0003_passkeys'),
    ]

    operations = [
        only_adds('shows_auditentry'),
    ]
