# For new databases: does at once what the migrations it replaces did one after another.

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('shows', '0001_initial'),
        ('shows', '0002_key_holder'),
        ('shows', '0003_passkeys'),
    ]

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='Show',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('slug', models.SlugField(unique=True)),
                ('name', models.CharField(max_length=120)),
                ('ground', models.CharField(max_length=160)),
                ('starts_on', models.DateField()),
                ('ends_on', models.DateField()),
                ('judging_starts_at', models.DateTimeField(help_text='When the first judge may set off.')),
                ('judging_minutes', models.PositiveIntegerField(help_text='How long the window may be.')),
                ('zone', models.CharField(default='America/Denver', max_length=64)),
                ('entry_cap', models.PositiveIntegerField(validators=[django.core.validators.MinValueValidator(1)])),
                ('entry_fee_cents', models.PositiveIntegerField(default=0)),
                ('refund_terms', models.TextField(blank=True)),
                ('cautions', models.JSONField(default=list)),
                ('policies', models.JSONField(default=list)),
                ('gate_x_ft', models.FloatField(default=0)),
                ('gate_y_ft', models.FloatField(default=0)),
                ('walking_ft_per_minute', models.PositiveIntegerField(default=200)),
                ('crew_reset_minutes', models.PositiveIntegerField(default=1)),
            ],
            options={
                'ordering': ('-starts_on', 'slug'),
            },
        ),
        migrations.CreateModel(
            name='Person',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('email', models.EmailField(max_length=254, unique=True)),
                ('name', models.CharField(max_length=120)),
                ('is_active', models.BooleanField(default=True)),
                ('joined_at', models.DateTimeField(auto_now_add=True)),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Passkey',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('credential_id', models.CharField(help_text='Base64url, without padding.', max_length=1400)),
                ('credential_hash', models.CharField(help_text='SHA-256 of the id.', max_length=64, unique=True)),
                ('public_key', models.TextField(help_text='COSE key, base64url.')),
                ('sign_count', models.PositiveBigIntegerField(default=0)),
                ('transports', models.JSONField(default=list)),
                ('backed_up', models.BooleanField(default=False)),
                ('name', models.CharField(help_text="The person's own word for the device.", max_length=60)),
                ('made_at', models.DateTimeField()),
                ('used_at', models.DateTimeField(blank=True, null=True)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('id',),
            },
        ),
        migrations.CreateModel(
            name='AuditEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('device', models.CharField(blank=True, max_length=80)),
                ('verb', models.CharField(max_length=60)),
                ('subject', models.CharField(max_length=160)),
                ('before', models.JSONField(null=True)),
                ('after', models.JSONField(null=True)),
                ('reason', models.TextField(blank=True)),
                ('actor', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='record', to='shows.show')),
            ],
            options={
                'ordering': ('-id',),
            },
        ),
        migrations.CreateModel(
            name='RoleHeld',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.CharField(choices=[('office', 'office'), ('steward', 'steward'), ('judge', 'judge'), ('scribe', 'scribe'), ('exhibitor', 'exhibitor'), ('announcer', 'announcer'), ('key_holder', 'key_holder')], max_length=20)),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='roles', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='roles', to='shows.show')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('show', 'person', 'role'), name='role_held_once')],
            },
        ),
        migrations.CreateModel(
            name='ShowClass',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField()),
                ('name', models.CharField(max_length=120)),
                ('description', models.TextField(blank=True)),
                ('places_awarded', models.PositiveIntegerField(default=3)),
                ('position', models.PositiveIntegerField(default=0)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='classes', to='shows.show')),
            ],
            options={
                'ordering': ('position', 'code'),
                'constraints': [models.UniqueConstraint(fields=('show', 'code'), name='class_code_once_a_show')],
            },
        ),
    ]
